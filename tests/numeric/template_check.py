#!/usr/bin/python3
"""The drilling template rendered at 600 dpi: every centre cross within 0.1 mm of its place, both faces; the SVG read back by
librsvg; the usable map's areas by shapely (an independent GeoJSON reader)."""
import json, os, subprocess, sys, tempfile
import cv2, numpy as np
from shapely.geometry import shape

tool = sys.argv[1]
DPI = 600
PX = DPI / 25.4
W, H = 150.0, 120.0
with tempfile.TemporaryDirectory() as d:
    ring = [[0, 0], [W, 0], [W, H], [0, H], [0, 0]]
    spot = [[60, 60], [68, 60], [64, 67], [60, 60]]
    feature = lambda kind, rings, **p: dict(type='Feature', properties=dict(kind=kind, **p), geometry=dict(type='Polygon', coordinates=rings))
    m = dict(type='FeatureCollection', schema_version=1, unit='mm', frame='sheet', position_u95_mm=.2, sheet=dict(id='H-005', thickness_mm=6.0),
             features=[feature('outline', [ring]), feature('defect', [spot], defect='dry_spot', id='F1', area_mm2=28.0)])
    orders = dict(schema_version=1, rings=[dict(iso_size=57, wall_mm=2.2, width_mm=5.0, count='fill')], saws=[dict(outer_mm=27.0, kerf_mm=1.5)], web_mm=2.0, edge_margin_mm=3.0)
    f, o = os.path.join(d, 'map.geojson'), os.path.join(d, 'orders.json')
    json.dump(m, open(f, 'w')); json.dump(orders, open(o, 'w'))
    assert abs(shape(m['features'][1]['geometry']).area - 28.0) < 1e-9
    for face in ('front', 'back'):
        out = os.path.join(d, face)
        subprocess.run([tool, 'place', f, '--orders', o, '--face', face, '--out', out], check=True, stdout=subprocess.DEVNULL)
        blanks = json.load(open(os.path.join(out, 'blanks.json')))['blanks']
        assert len(blanks) >= 8, len(blanks)
        annuli = [shape(dict(type='Point', coordinates=b['centre_mm'])).buffer(b['outer_diameter_mm'] / 2, 64).difference(
            shape(dict(type='Point', coordinates=b['centre_mm'])).buffer(b['inner_diameter_mm'] / 2, 64)) for b in blanks]
        assert not any(a.intersects(shape(m['features'][1]['geometry'])) for a in annuli)
        pdf = os.path.join(out, 'drill-template.pdf')
        subprocess.run(['pdftoppm', '-r', str(DPI), '-gray', '-f', '1', '-l', '1', pdf, pdf], check=True)
        page = cv2.imread([os.path.join(out, n) for n in sorted(os.listdir(out)) if n.endswith('.pgm')][0], 0) < 160
        x0, y0 = 16.0, 34.0                      # where the sheet's corner lies on page 1 (margin 10 + 6, head 24)
        worst = 0
        for b in blanks:
            x, y = b['centre_mm']
            x = (W - x if face == 'back' else x)
            cx, cy = (x + x0) * PX, (y + y0) * PX
            if cx + 6 * PX > (10 + 180) * PX or cy + 6 * PX > page.shape[0] - 45 * PX:
                continue                          # on another page
            c = page[int(cy - 4.5 * PX):int(cy + 4.5 * PX), int(cx - 4.5 * PX):int(cx + 4.5 * PX)]
            col = np.nonzero(c.mean(0) > .7)[0].mean() + .5 + int(cx - 4.5 * PX)
            row = np.nonzero(c.mean(1) > .7)[0].mean() + .5 + int(cy - 4.5 * PX)
            worst = max(worst, abs(col - cx) / PX, abs(row - cy) / PX)
        assert worst <= 0.1, worst
        svg = os.path.join(out, 'drill-template.svg')
        png = os.path.join(out, 'svg.png')
        subprocess.run(['rsvg-convert', '-d', '300', '-p', '300', '-b', 'white', svg, '-o', png], check=True)
        g = cv2.imread(png, 0)
        assert abs(g.shape[1] / 300 * 25.4 - W) < 0.2 and abs(g.shape[0] / 300 * 25.4 - H) < 0.2, g.shape
        print('template %s: %d blanks, centres within %.3f mm' % (face, len(blanks), worst))
