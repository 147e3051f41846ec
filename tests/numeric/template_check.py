#!/usr/bin/python3
"""The drilling template as printed, rendered at 600 dpi by poppler and measured from the inner borders of its datum edges.

Every centre cross within 0.1 mm of blanks.json, front and back, on A4 and Letter, pages joined at their marks; both check
rules; a print scale; the SVG read back by librsvg; every text selectable. No ring on the defect, by shapely.
"""
import json, os, re, subprocess, sys, tempfile
import cv2, numpy as np
from shapely.geometry import Point, Polygon

tool = sys.argv[1]
DPI, PT = 600, 25.4 / 72
PX = DPI / 25.4


def words(pdf):
    """Selectable words by page: (text, x, y, height) of the box's left top, mm."""
    html = subprocess.run(['pdftotext', '-bbox', pdf, '-'], check=True, capture_output=True, text=True).stdout
    pages = []
    for page in html.split('<page ')[1:]:
        found = re.findall(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]*)<', page)
        pages.append([(t, float(x) * PT, float(y) * PT, (float(y1) - float(y)) * PT) for x, y, x1, y1, t in found])
    return pages


def middle(profile, lo):
    """Centre of the dark run of a profile, px, sub-pixel by weight."""
    w = np.clip(profile - 0.35 * profile.max(), 0, None)
    return lo + (w * (np.arange(len(w)) + .5)).sum() / w.sum()


def cross(dark, x, y):
    """The broken cross nearest to a guess (mm): each arm's own middle."""
    r = 0.9                                           # the numbers begin 1.1 mm away
    def cut(x0, x1, y0, y1):
        return dark[int(y0 * PX):int(y1 * PX), int(x0 * PX):int(x1 * PX)]
    up, down = cut(x - r, x + r, y - 3.6, y - 1.4), cut(x - r, x + r, y + 1.4, y + 3.6)
    left, right = cut(x - 3.6, x - 1.4, y - r, y + r), cut(x + 1.4, x + 3.6, y - r, y + r)
    cx = (middle(np.minimum(up.mean(0), 1), int((x - r) * PX)) + middle(down.mean(0), int((x - r) * PX))) / 2
    cy = (middle(left.mean(1), int((y - r) * PX)) + middle(right.mean(1), int((y - r) * PX))) / 2
    return cx / PX, cy / PX


def datum(dark, back, sheet_y):
    """Inner borders of the heavy edges near the place where they are looked for: (x, y) of the datum corner, mm."""
    row = dark[int((sheet_y + 20) * PX):int((sheet_y + 60) * PX)].mean(0)
    heavy = [g for g in np.split(np.arange(len(row)), np.nonzero(np.diff(row > .9))[0] + 1) if row[g[0]] > .9 and len(g) > .7 * PX * .8]
    assert len(heavy) == 1, [(g[0] / PX, len(g) / PX) for g in heavy]
    x = heavy[0][0] if back else heavy[0][-1] + 1
    lo = x - int(60 * PX) if back else x + int(20 * PX)
    column = dark[:, lo:lo + int(40 * PX)].mean(1)
    thick = [g for g in np.split(np.arange(len(column)), np.nonzero(np.diff(column > .9))[0] + 1) if column[g[0]] > .9 and len(g) > .7 * PX * .8]
    return x / PX, (thick[0][-1] + 1) / PX


def rules(gray, k):
    """Both check rules measure 100 mm once the print's own scale is applied."""
    h, w = gray.shape
    for image, far in ((gray[int((h / PX - 46) * PX):int((h / PX - 39) * PX)], False), (gray[:, int((w / PX - 14.5) * PX):int((w / PX - 9.5) * PX)].T, True)):
        dark = image < 128
        line = max(range(dark.shape[0]), key=lambda i: dark[i].sum())
        xs = np.nonzero(dark[line])[0]
        runs = np.split(xs, np.nonzero(np.diff(xs) > 3)[0] + 1)
        longest = max(runs, key=len)
        assert abs((len(longest)) / PX * k - 100) < 0.3, ('rule', far, len(longest) / PX)  # line plus the end strokes' width
        above = dark[max(line - int(3.2 * PX), 0):line - int(2.4 * PX)].mean(0)
        ticks = [g.mean() + .5 for g in np.split(np.nonzero(above > .8)[0], np.nonzero(np.diff(np.nonzero(above > .8)[0]) > 3)[0] + 1)]
        ticks = [t for t in ticks if longest[0] - 4 <= t <= longest[-1] + 4]
        assert len(ticks) == 11 and abs((ticks[-1] - ticks[0]) / PX * k - 100) < 0.05, (far, len(ticks), (ticks[-1] - ticks[0]) / PX)


def measure(out, blanks, W, back, k):
    """Worst distance of a printed centre from its place, mm on the finished print; how many pages."""
    pdf = os.path.join(out, 'drill-template.pdf')
    subprocess.run(['pdftoppm', '-r', str(DPI), '-gray', pdf, os.path.join(out, 'page')], check=True)
    files = sorted(n for n in os.listdir(out) if n.startswith('page') and n.endswith('.pgm'))
    pages = words(pdf)
    gray = [cv2.imread(os.path.join(out, f), 0) for f in files]
    assert len(gray) == len(pages)
    for g in gray:
        rules(g, k)
    text = ' '.join(w[0] for p in pages for w in p)
    for needed in ('wet drilling dissolves paper', 'respirator', 'backing board', 'turning part', 'Local rules', 'Must measure 100.0 mm'):
        assert needed in text, needed
    assert ('BACK FACE' in text) == back
    # Joined pages: where a mark's letter lies on both pages, the pages' offset.
    letters = [{t: (x, y) for t, x, y, h in p if re.fullmatch(r'[A-Z]\d*', t) and h > 4.2} for p in pages]
    offset = {0: np.zeros(2)}
    while len(offset) < len(pages):
        before = len(offset)
        for i in list(offset):
            for j in range(len(pages)):
                common = set(letters[i]) & set(letters[j])
                if j not in offset and i != j and common:
                    moves = np.array([np.subtract(letters[i][c], letters[j][c]) for c in common])
                    assert np.ptp(moves, axis=0).max() < 0.02, moves
                    offset[j] = offset[i] + moves.mean(0)
        assert len(offset) > before, 'pages that nothing joins'
    home = next(i for i, p in enumerate(pages) if any(t == 'Datum' for t, *_ in p))
    _, _, dy, _ = next(w for w in pages[home] if w[0] == 'Datum')
    corner = np.array(datum((gray[home] < 128).astype(float), back, dy)) + offset[home]
    left, worst = {b['id'].rsplit('-', 1)[1]: b for b in blanks}, 0.0
    seen = set()
    for i, page in enumerate(pages):
        dark = (255 - gray[i]) / 255.0
        for t, x, y, h in page:
            if t not in left or not 3.5 < h < 6:      # blank numbers are bold 4 mm
                continue
            bx, by = left[t]['centre_mm']
            expected = corner + np.array([-bx if back else bx, by]) / k - offset[i]
            near = abs(expected[0] + 1.1 - x) < 1.5 and abs(expected[1] - 1.0 - (y + h)) < 2.5
            if not near or not (15 < expected[0] < gray[i].shape[1] / PX - 31 and 30 < expected[1] < gray[i].shape[0] / PX - 62):
                continue                              # a part hidden by a page's border is measured on its neighbour
            px, py = expected
            arms = [(0, -2.5), (0, 2.5), (-2.5, 0), (2.5, 0)]
            if any(dark[int((py + b - .4) * PX):int((py + b + .4) * PX), int((px + a - .4) * PX):int((px + a + .4) * PX)].max() < .5 for a, b in arms):
                continue                              # so is one that the clipping cuts; all must be seen somewhere
            found = cross(dark, *expected)
            worst = max(worst, np.hypot(*(np.array(found) - expected)) * k)
            seen.add(t)
    return worst, len(gray), len(seen), len(left)


def svg_centres(path, W, back, blanks, k):
    """Worst distance of a centre in the SVG, drawn by librsvg, from its place."""
    svg = open(path).read()
    groups = re.findall(r'<g id="(\w+)">', svg)
    for g in ('outline', 'kerf', 'centres', 'labels'):
        assert g in groups, groups
    size = re.search(r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="([\d.-]+) ([\d.-]+) ([\d.]+) ([\d.]+)"', svg)
    w, h, x0, y0, vw, vh = map(float, size.groups())
    assert (w, h) == (vw, vh)
    png = path + '.png'
    subprocess.run(['rsvg-convert', '-d', str(DPI), '-p', str(DPI), '-b', 'white', path, '-o', png], check=True)
    dark = (255 - cv2.imread(png, 0)) / 255.0
    assert abs(dark.shape[1] / PX - w) < 0.1
    worst = 0.0
    for b in blanks:
        x, y = b['centre_mm']
        want = np.array([(W - x if back else x) / k - x0, y / k - y0])
        worst = max(worst, np.hypot(*(np.array(cross(dark, *want)) - want)))
    return worst


def run(d, name, ring, W, H, extra, expect_pages, k=1.0, back=False, least=8):
    spot = [[60, 60], [68, 60], [64, 67], [60, 60]]
    feature = lambda kind, rings, **p: dict(type='Feature', properties=dict(kind=kind, **p), geometry=dict(type='Polygon', coordinates=rings))
    m = dict(type='FeatureCollection', schema_version=1, unit='mm', frame='sheet', position_u95_mm=.2, sheet=dict(id='H-005', thickness_mm=6.0),
             features=[feature('outline', [ring]), feature('defect', [spot], defect='dry_spot', id='F1', area_mm2=28.0)])
    orders = dict(schema_version=1, rings=[dict(iso_size=57, wall_mm=2.2, width_mm=5.0, count='fill')], saws=[dict(outer_mm=27.0, kerf_mm=1.5)], web_mm=2.0, edge_margin_mm=3.0)
    f, o, out = (os.path.join(d, n) for n in (name + '.geojson', 'orders.json', name))
    json.dump(m, open(f, 'w')); json.dump(orders, open(o, 'w'))
    subprocess.run([tool, 'place', f, '--orders', o, '--effort', '0.1', '--out', out] + extra, check=True, stdout=subprocess.DEVNULL)
    blanks = json.load(open(os.path.join(out, 'blanks.json')))['blanks']
    assert len(blanks) >= least, len(blanks)
    for b in blanks:
        c = Point(b['centre_mm'])
        annulus = c.buffer(b['outer_diameter_mm'] / 2, 64).difference(c.buffer(b['inner_diameter_mm'] / 2, 64))
        assert not annulus.intersects(Polygon(spot)), b['id']
    worst, pages, seen, all_ = measure(out, blanks, W, back, k)
    assert pages == expect_pages, (name, pages)
    assert seen == all_, '%s: %d of %d centres found whole on a page' % (name, seen, all_)
    assert worst <= 0.1, (name, worst)
    svg = svg_centres(os.path.join(out, 'drill-template.svg'), W, back, blanks, k)
    assert svg <= 0.1, svg
    picture = cv2.imread(os.path.join(out, 'placement.png'))
    assert abs(max(picture.shape) - min(1800, 12 * 1.09 * max(W, H))) < 2, picture.shape  # 4.5 % around the sheet, 12 px/mm at most
    print('template %s: %d blanks on %d pages, centres within %.3f mm of the datum edges; SVG within %.3f mm' % (name, len(blanks), pages, worst, svg))


with tempfile.TemporaryDirectory() as d:
    box = lambda w, h: [[0, 0], [w, 0], [w, h], [0, h], [0, 0]]
    run(d, 'one-page', box(150, 120), 150, 120, [], 1)
    run(d, 'one-page-back', box(150, 120), 150, 120, ['--face', 'back'], 1, back=True)
    run(d, 'two-pages', box(240, 180), 240, 180, [], 2, least=20)
    run(d, 'two-pages-back-letter', box(240, 180), 240, 180, ['--face', 'back', '--paper', 'letter'], 2, back=True, least=20)
    run(d, 'four-pages', box(300, 300), 300, 300, [], 4, least=60)
    run(d, 'scaled', box(150, 120), 150, 120, ['--strip-length', '249.0'], 1, k=249.0 / 250)
