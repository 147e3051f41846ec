#!/usr/bin/env python3
"""Trains the two defect nets from the files of write_examples and writes them as ONNX (opset 11, read by OpenCV 4.6).

    train.py EXAMPLES_FOLDER OUT_FOLDER [--hole-steps 16000] [--area-steps 14000] [--seed 7] [--only holes|areas]
             [--drop 0.1]

Needs PyTorch, SciPy and onnx. One face in 25 (by number) is kept for the printed scores and for the two
calibrations that the program carries: logit cuts for a rate of false finds, and odds by score. An accelerator is used
if there is one; a processor takes longer, not timed.
"""
import argparse
import copy
import glob
import os

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F
from scipy import ndimage

PATCH, PLANES = 24, 8
LIGHT, PLACE = [0, 1, 2, 6, 7], [3, 4, 5]  # planes of brightness, planes that tell where in the weave
WARP, WEFT, LOG_WARP, LOG_WEFT = 5, 6, 18, 19  # cue planes that swap when the sheet is turned by a quarter
IN_SCATTERS = 16  # the first cue planes; those after them are in log units
ITEM = np.dtype([('truth', 'u1'), ('diameter', 'u1'), ('hole', '<i2'), ('score', '<f4'), ('patch', 'i1', (PLANES, PATCH, PATCH))])
CUES = 22  # the judged share included
SIDE = 128
NODE_MM2 = .16


def read(path):
    """Cues with the judged share as last plane (int8), labels (0 sound, 1 dry, 2 resin-rich, 255 not asked), finds, holes."""
    raw = np.fromfile(path, np.uint8)
    if raw.size < 20:
        return None
    rows, cols, planes, finds, holes = raw[:20].view(np.int32)
    n, at = rows * cols, 20
    if raw.size != 20 + (planes + 2) * n + finds * ITEM.itemsize:
        return None  # its writer was stopped half way
    cues = raw[at:at + planes * n].view(np.int8).reshape(planes, rows, cols)
    at += cues.size
    judged = (raw[at:at + n].reshape(rows, cols) // 2).astype(np.int8)
    labels = raw[at + n:at + 2 * n].reshape(rows, cols).copy()
    labels[labels == 3] = 2
    return np.concatenate([cues, judged[None]]), labels, np.frombuffer(raw[at + 2 * n:].tobytes(), ITEM, finds), int(holes)


def lean(face, only):
    """What is trained on; the rest of the file, which is large, goes."""
    cues, labels, items, holes = face
    return (cues if only != 'holes' else None, labels, items if only != 'areas' else None, holes)


def block(a, b):
    return nn.Sequential(nn.Conv2d(a, b, 3, padding=1), nn.BatchNorm2d(b), nn.ReLU())


class AreaNet(nn.Module):
    """asinh of the cues and the judged share in, logits of sound, dry, resin-rich out; sides divisible by 8."""

    def __init__(self, planes):
        super().__init__()
        # The cues are smooth over a tow, so half of the nodes each way tell as much for a third of the work.
        self.first = nn.Sequential(nn.Conv2d(planes, 24, 2, 2), nn.BatchNorm2d(24), nn.ReLU())
        self.down = nn.ModuleList([nn.Sequential(block(24, 24), block(24, 24)), nn.Sequential(block(24, 48), block(48, 48)),
                                   nn.Sequential(block(48, 80), block(80, 80))])
        self.up = nn.ModuleList([nn.ConvTranspose2d(80, 48, 2, 2), nn.ConvTranspose2d(48, 24, 2, 2)])
        self.join = nn.ModuleList([block(48, 48), block(24, 24)])
        self.last = nn.ConvTranspose2d(24, 3, 2, 2)

    def forward(self, x):
        x = self.first(x)
        kept = []
        for i, step in enumerate(self.down):
            if i:
                x = F.max_pool2d(x, 2)
            x = step(x)
            kept.append(x)
        for i, (up, join) in enumerate(zip(self.up, self.join)):
            x = join(up(x) + kept[1 - i])
        return self.last(x)


class PatchNet(nn.Module):
    def __init__(self):
        super().__init__()
        self.layers = nn.Sequential(block(PLANES, 24), block(24, 32), nn.MaxPool2d(2), block(32, 48), block(48, 56), nn.MaxPool2d(2),
                                    block(56, 72), nn.Flatten(), nn.Linear(72 * 36, 64), nn.ReLU(), nn.Linear(64, 1))

    def forward(self, x):
        return self.layers(x)


def as_input(cues):
    """The planes as the program gives them: asinh of the cue; judged share in [0, 1]."""
    x = cues.float() / 26
    x[..., -1, :, :] *= 26 / 127
    return x


def turned(x, y, rng):
    if rng.random() < .5:
        x, y = x.flip(1), y.flip(0)
    if rng.random() < .5:
        x, y = x.flip(2), y.flip(1)
    if rng.random() < .5:
        x, y = x.transpose(1, 2), y.T
    if rng.random() < .5:
        x = x.clone()
        x[[WARP, WEFT, LOG_WARP, LOG_WEFT]] = x[[WEFT, WARP, LOG_WEFT, LOG_WARP]]
    return x, y


class Averaged:
    """The running mean of a net's weights over some thousand steps: steadier than where the last step left them."""

    def __init__(self, net):
        self.net = copy.deepcopy(net).eval()

    def follow(self, net, step):
        keep = min(.999, (1 + step) / (10 + step))
        with torch.no_grad():
            for mine, its in zip(self.net.parameters(), net.parameters()):
                mine.lerp_(its, 1 - keep)
            for mine, its in zip(self.net.buffers(), net.buffers()):
                mine.copy_(its)


def optimise(net, loss_of_batch, steps, rate, peak, decay, name):
    """`steps` steps down the loss of a batch that `loss_of_batch(net)` draws, one cycle of the rate; the mean net."""
    mean = Averaged(net)
    optimiser = torch.optim.AdamW(net.parameters(), rate, weight_decay=decay)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, peak, steps)
    for step in range(steps):
        loss = loss_of_batch(net)
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        schedule.step()
        mean.follow(net, step)
        if step % 1000 == 0:
            print(name, step, round(loss.item(), 4), flush=True)
    return mean.net


def train_areas(faces, held, steps, device, rng, drop):
    weight = torch.tensor([1.0, 1.5, 1.5], device=device)
    padded = []
    for cues, labels, *_ in faces:
        h, w = max(SIDE, labels.shape[0]), max(SIDE, labels.shape[1])
        c = np.zeros((CUES, h, w), np.int8)
        m = np.full((h, w), 255, np.uint8)
        c[:, :labels.shape[0], :labels.shape[1]] = cues
        m[:labels.shape[0], :labels.shape[1]] = labels
        padded.append((torch.from_numpy(c).to(device), torch.from_numpy(m).to(device)))

    def loss_of_batch(net):
        xs, ys = [], []
        for k in rng.integers(0, len(padded), 32):
            cues, labels = padded[k]
            i, j = rng.integers(0, labels.shape[0] - SIDE + 1), rng.integers(0, labels.shape[1] - SIDE + 1)
            x, y = turned(as_input(cues[:, i:i + SIDE, j:j + SIDE]), labels[i:i + SIDE, j:j + SIDE].long(), rng)
            xs.append(x)
            ys.append(y)
        x, y = torch.stack(xs), torch.stack(ys)
        # Another cloth scatters more or less, so all cues in units of its scatter stand out less or more.
        unit = torch.exp(.3 * torch.randn((x.shape[0], 1, 1, 1), device=device))
        cue = torch.cat([torch.asinh(unit * torch.sinh(x[:, :IN_SCATTERS])), x[:, IN_SCATTERS:-1]], 1)
        # Other cameras and cloths scale and shift single cues: gain 25 %, offset 0.15, some of the planes dropped.
        shape = (x.shape[0], CUES - 1, 1, 1)
        cue = cue * (1 + .25 * torch.randn(shape, device=device)) + .15 * torch.randn(shape, device=device)
        x = torch.cat([cue * (torch.rand(shape, device=device) > drop), x[:, -1:]], 1)
        return F.cross_entropy(net(x), torch.where(y == 255, -100, y), weight, ignore_index=-100)

    net = optimise(AreaNet(CUES).to(device), loss_of_batch, steps, 3e-3, 4e-3, 1e-3, 'areas')
    calibrate_areas(net, held, device)
    return net


def regions(unsound, labels):
    """Parts above even odds and their scores, as the program forms them: mean of the best quarter + 0.35 ln(area)."""
    part, n = ndimage.label((unsound > 0) & (labels != 255))
    for k in range(1, n + 1):
        inside = part == k
        area = inside.sum() * NODE_MM2
        if area < 1.5:
            continue
        values = np.sort(unsound[inside])[::-1]
        yield inside, area, values[:max(1, len(values) // 4)].mean() + .35 * np.log(area)


def calibrate_areas(net, held, device):
    scores, true, sizes, found, kinds, worst = [], [], [], [], [], []
    hits = np.zeros((3, 3), int)
    with torch.no_grad():
        for cues, labels, *_ in held:
            h, w = labels.shape[0] // 8 * 8, labels.shape[1] // 8 * 8
            y = net(as_input(torch.from_numpy(cues[:, :h, :w].copy()).to(device))[None])[0].cpu().numpy()
            unsound = np.maximum(y[1], y[2]) - y[0]
            truth = labels[:h, :w]
            said = y.argmax(0)
            for a in range(3):
                hits[a] += [((truth == a) & (said == b)).sum() for b in range(3)]
            spots, m = ndimage.label((truth == 1) | (truth == 2))
            best, highest = np.full(m + 1, -99.0), -99.0
            for inside, area, score in regions(unsound, truth):
                scores.append(score)
                true.append(np.isin(truth[inside], (1, 2)).mean() > .4)
                if not true[-1]:
                    highest = max(highest, score)
                for spot in np.setdiff1d(np.unique(spots[inside]), [0]):
                    both = (inside & (spots == spot)).sum()
                    if both / (inside.sum() + (spots == spot).sum() - both) >= .5:
                        best[spot] = max(best[spot], score)
            worst.append(highest)
            for spot in range(1, m + 1):
                sizes.append((spots == spot).sum() * NODE_MM2)
                kinds.append(truth[spots == spot][0])
                found.append(best[spot])
    scores, true, sizes, found, kinds = map(np.array, (scores, true, sizes, found, kinds))
    print('areas, kept faces: rows true sound, dry, resin; columns said\n', hits, flush=True)
    false = np.sort(scores[~true])[::-1]
    for want in (.03, .1, .3, 1, 3):
        cut = false[min(len(false) - 1, int(want * len(held)))]
        line = [f'{name} {low}-{high} mm2 {np.mean(found[(sizes >= low) & (sizes < high) & (kinds == kind)] >= cut):.2f}'
                for kind, name in ((1, 'dry'), (2, 'resin')) for low, high in ((1, 12), (12, 50), (50, 9999))]
        print('areas, false per face', want, 'cut', round(float(cut), 2), 'faces with any', round(float(np.mean(np.array(worst) >= cut)), 3), *line, flush=True)
    a, b = 1.0, 0.0
    for _ in range(4000):  # logistic by plain descent
        p = 1 / (1 + np.exp(-(a * scores + b)))
        a -= .02 * np.mean((p - true) * scores)
        b -= .02 * np.mean(p - true)
    print(f'areas, odds by score: logistic({a:.2f} * score + {b:.2f})', flush=True)


def train_holes(faces, held, steps, device, rng):
    def pack(some):
        x = torch.from_numpy(np.concatenate([f[2]['patch'] for f in some])).to(device)
        y = torch.from_numpy(np.concatenate([f[2]['truth'] for f in some]).astype(np.int64)).to(device)
        return x[y != 2], y[y != 2].float()

    x_all, y_all = pack(faces)
    positive, negative = torch.nonzero(y_all == 1)[:, 0], torch.nonzero(y_all == 0)[:, 0]
    print('holes', len(positive), 'others', len(negative), flush=True)
    ratio = len(negative) / len(positive)

    def loss_of_batch(net):
        pick = torch.cat([positive[torch.randint(len(positive), (256,), device=device)],
                          negative[torch.randint(len(negative), (768,), device=device)]])
        x, y = x_all[pick].float() / 31, y_all[pick]
        if rng.random() < .5:
            x = x.flip(2)
        if rng.random() < .5:
            x = x.flip(3)
        if rng.random() < .5:
            x = x.transpose(2, 3)
        light, place = x[:, LIGHT], x[:, PLACE]
        if rng.random() < .5:  # the other tow family
            place = torch.stack([place[:, 1], place[:, 0], -place[:, 2]], 1)
        n = len(x)
        light = light * (1 + .25 * torch.randn(n, 1, 1, 1, device=device)) + .1 * torch.randn(n, len(LIGHT), 1, 1, device=device)
        # How the weave itself looks differs from cloth to cloth: the net must not lean on the plain brightness.
        kept = torch.tensor([.6, .95, .95, .6, .95], device=device)[None, :, None, None]
        light = light * (torch.rand(n, len(LIGHT), 1, 1, device=device) < kept)
        light = light + .05 * torch.randn_like(light)
        x = torch.empty_like(x)
        x[:, LIGHT], x[:, PLACE] = light, place
        # Drawn 1 : 3 but rarer in life: the shift makes the output the logarithm of true odds.
        return F.binary_cross_entropy_with_logits(net(x)[:, 0] + np.log(ratio / 3), y)

    net = optimise(PatchNet().to(device), loss_of_batch, steps, 2e-3, 3e-3, 1e-2, 'holes')
    calibrate_holes(net, held, device)
    return net


def calibrate_holes(net, held, device):
    false, worst, per_hole, finds = [], [], [], []
    with torch.no_grad():
        for _, _, items, holes in held:
            x = torch.from_numpy(items['patch'].copy()).to(device).float() / 31
            logits = net(x)[:, 0].cpu().numpy()
            truth = items['truth']
            false.append(logits[truth == 0])
            worst.append(logits[truth == 0].max(initial=-99))
            for hole in np.unique(items['hole'][items['hole'] >= 0]):
                own = items['hole'] == hole
                per_hole.append((items['diameter'][own][0] / 100, logits[own].max()))
            finds.append(holes)
    false, per_hole, total = np.sort(np.concatenate(false))[::-1], np.array(per_hole).reshape(-1, 2), sum(finds)
    print('holes', total, 'among the candidates', len(per_hole), flush=True)
    true = per_hole[:, 1]
    for low, high in ((-5, -3), (-3, -1), (-1, 0), (0, 1), (1, 2), (2, 4), (4, 99)):
        t, f = ((true >= low) & (true < high)).sum(), ((false >= low) & (false < high)).sum()
        print('holes, logit', low, high, 'n', t + f, 'true share', round(t / max(t + f, 1), 3))
    for want in (.1, .3, 1, 3, 10):
        cut = false[min(len(false) - 1, int(want * len(held)))]
        line = [f'{low}-{high} mm {(true[(per_hole[:, 0] >= low) & (per_hole[:, 0] < high)] > cut).mean():.2f}' for low, high in ((.3, .45), (.45, .7), (.7, 2.1))]
        print('holes, false per face', want, 'cut', round(float(cut), 2), 'found of all', round(float((true > cut).sum() / total), 3),
              'faces with any', round(float(np.mean(np.array(worst) >= cut)), 3), 'of candidates', *line, flush=True)


def write(net, shape, path, sides):
    free = {0: 'n', 2: 'h', 3: 'w'} if sides else {0: 'n'}
    extra = {'dynamo': False} if tuple(map(int, torch.__version__.split('.')[:2])) >= (2, 5) else {}
    torch.onnx.export(net.eval().cpu(), torch.zeros(shape), path, opset_version=11, input_names=['x'], output_names=['y'],
                      dynamic_axes={'x': free, 'y': free if sides else {0: 'n'}}, **extra)
    print(path, sum(p.numel() for p in net.parameters()), 'weights', flush=True)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument('examples')
    parser.add_argument('out')
    parser.add_argument('--hole-steps', type=int, default=16000)
    parser.add_argument('--area-steps', type=int, default=14000)
    parser.add_argument('--seed', type=int, default=7)
    parser.add_argument('--only', choices=['holes', 'areas'])
    parser.add_argument('--drop', type=float, default=.1, help='share of the cue planes left out at each step')
    options = parser.parse_args()
    torch.manual_seed(options.seed)
    rng = np.random.default_rng(options.seed)
    device = 'cuda' if torch.cuda.is_available() else 'cpu'
    files = sorted(glob.glob(options.examples + '/*.bin'), key=lambda p: int(os.path.basename(p)[:-4]))
    faces = [lean(face, options.only) for face in map(read, files) if face]
    held = faces[::25]
    faces = [f for k, f in enumerate(faces) if k % 25]
    os.makedirs(options.out, exist_ok=True)
    print(len(faces), 'faces,', len(held), 'kept', flush=True)
    if options.only != 'areas':
        write(train_holes(faces, held, options.hole_steps, device, rng), (1, PLANES, PATCH, PATCH), f'{options.out}/pinholes.onnx', False)
    if options.only != 'holes':
        write(train_areas(faces, held, options.area_steps, device, rng, options.drop), (1, CUES, 64, 64), f'{options.out}/areas.onnx', True)


if __name__ == '__main__':
    main()
