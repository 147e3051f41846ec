#!/usr/bin/env python3
"""Weights of the ply count from the readings of write_edge_examples.

    train_plies.py OUT.txt READINGS.csv [READINGS.csv ...]

A conditional logit (McFadden 1974): P(n) = exp(w . r(n)) / sum over m of exp(w . r(m)), with a penalty on the weights of
the standardised readings. Scenes whose band was not found to a quarter of a ply are left out: their readings do not
belong to any count. Needs numpy and scipy.
"""
import csv
import sys

import numpy as np
from scipy.optimize import minimize

PENALTY = 1.0  # half squared weights are added to the log likelihood of all scenes


def load(paths):
    names, scenes = None, []
    for path in paths:
        rows = list(csv.reader(open(path)))
        names = rows[0][7:]
        table = np.array([[float(v) for v in r] for r in rows[1:] if len(r) == len(rows[0])])
        for key in np.unique(table[:, 0]):
            s = table[table[:, 0] == key]
            truth, band, found, ply = int(s[0, 2]), s[0, 3], s[0, 4], s[0, 5]
            right = abs(found - band) < 0.25 * ply + 1 and truth in s[:, 6]
            scenes.append(dict(level=int(s[0, 1]), truth=truth, ply=ply, right=right, n=s[:, 6].astype(int), r=s[:, 7:]))
    return names, scenes


def fit(scenes):
    scenes = [s for s in scenes if s['right']]
    every = np.vstack([s['r'] for s in scenes])
    scale = every.std(0) + 1e-9
    spans = np.cumsum([0] + [len(s['n']) for s in scenes])
    x = every / scale
    hit = np.concatenate([s['n'] == s['truth'] for s in scenes])
    owner = np.repeat(np.arange(len(scenes)), np.diff(spans))

    def cost(w):
        score = x @ w
        top = np.maximum.reduceat(score, spans[:-1])
        e = np.exp(score - top[owner])
        total = np.add.reduceat(e, spans[:-1])
        p = e / total[owner]
        value = -(score[hit].sum() - (top + np.log(total)).sum()) + 0.5 * PENALTY * w @ w
        return value, -(x[hit].sum(0) - p @ x) + PENALTY * w

    return minimize(cost, np.zeros(x.shape[1]), jac=True, method='L-BFGS-B', options=dict(maxiter=2000)).x / scale


def chances(scene, w):
    score = scene['r'] @ w
    e = np.exp(score - score.max())
    return e / e.sum()


def report(scenes, w, title):
    print(title)
    for level, name in enumerate(('easy', 'medium', 'hard')):
        for low, high in ((8, 12), (12, 20), (20, 60)):
            q = [s for s in scenes if s['level'] == level and low <= s['ply'] < high]
            if not q:
                continue
            p = [chances(s, w) for s in q]
            exact = [s['n'][c.argmax()] == s['truth'] for s, c in zip(q, p)]
            band = [s['right'] for s in q]
            sure = [c.max() > 0.95 for c in p]
            print('  %-6s %2d-%2d px: %3d scenes, exact %.2f, with the band right %.2f (%d); P > 0.95: %d, wrong %d, of these with the band right %d' % (
                name, low, high, len(q), np.mean(exact), np.mean([e for e, b in zip(exact, band) if b] or [np.nan]), sum(band),
                sum(sure), sum(k and not e for k, e in zip(sure, exact)), sum(k and not e and b for k, e, b in zip(sure, exact, band))))


def main():
    out, paths = sys.argv[1], sys.argv[2:]
    names, scenes = load(paths)
    folds = [i % 5 for i in range(len(scenes))]
    crossed = []
    for k in range(5):
        w = fit([s for s, f in zip(scenes, folds) if f != k])
        crossed += [(s, w) for s, f in zip(scenes, folds) if f == k]
    print('%d scenes' % len(scenes))
    # Each scene judged by weights that never saw it: its readings are replaced by its score.
    report([dict(s, r=(s['r'] @ w)[:, None]) for s, w in crossed], np.ones(1), 'cross-validated')
    w = fit(scenes)
    with open(out, 'w') as f:
        f.write('# Weights of the ply count: reading, weight. Made by models/training/train_plies.py from %d generated edges.\n' % len(scenes))
        for name, value in zip(names, w):
            f.write('%s %.6g\n' % (name, value))


if __name__ == '__main__':
    main()
