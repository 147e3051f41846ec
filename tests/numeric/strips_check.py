#!/usr/bin/python3
"""The printed strips, rendered at 600 dpi and measured, every marker found with its id.

Page sizes: ISO 216 (A4 210 x 297 mm); ANSI/ASME Y14.1 size A (Letter 8.5 x 11 in; from memory). Marker detector: OpenCV's, Debian's python3-opencv;
no second detector for this dictionary is packaged in Debian 12.
"""
import os, subprocess, sys, tempfile
import cv2, numpy as np

tool = sys.argv[1]
DPI = 600
PX = DPI / 25.4
with tempfile.TemporaryDirectory() as d:
    for paper, w, h in (('a4', 297.0, 210.0), ('letter', 279.4, 215.9)):
        pdf = os.path.join(d, paper + '.pdf')
        subprocess.run([tool, 'strips', '--paper', paper, '-o', pdf], check=True, stdout=subprocess.DEVNULL)
        subprocess.run(['pdftoppm', '-r', str(DPI), '-gray', pdf, pdf], check=True)
        page = cv2.imread(pdf + '-1.pgm', 0)
        assert abs(page.shape[1] / PX - w) < 0.1 and abs(page.shape[0] / PX - h) < 0.1, page.shape
        corners, ids, _ = cv2.aruco.detectMarkers(page, cv2.aruco.Dictionary_get(cv2.aruco.DICT_4X4_50))
        ids = ids.ravel()
        assert sorted(ids) == list(range(20)), sorted(ids)
        box = {}
        for i, c in zip(ids, corners):           # exact black extent around each detection
            x, y = c[0].mean(0).astype(int)
            half = int(12 * PX)
            black = page[y - half:y + half, x - half:x + half] < 128
            rows, cols = np.nonzero(black.mean(1) > .15)[0], np.nonzero(black.mean(0) > .15)[0]
            box[i] = (x - half + cols[0], y - half + rows[0], cols[-1] - cols[0] + 1, rows[-1] - rows[0] + 1)
        for i in range(20):
            assert abs(box[i][2] / PX - 20) < 0.05 and abs(box[i][3] / PX - 20) < 0.05, (i, box[i][2] / PX, box[i][3] / PX)
        for k in range(4):
            xs = [(box[5 * k + j][0] + box[5 * k + j][2] / 2) / PX for j in range(5)]
            assert np.allclose(np.diff(xs), 50, atol=0.05), xs
            # end lines: full-height dark columns 25 mm outside the first and last centre
            y0 = int((box[5 * k][1] / PX - 5 + 1) * PX)
            strip = page[y0:y0 + int(28 * PX)] < 128
            for x in (xs[0] - 25, xs[-1] + 25):
                col = np.nonzero(strip[:, int((x - .5) * PX):int((x + .5) * PX)].mean(0) > .9)[0]
                assert len(col) and abs((int((x - .5) * PX) + col.mean() + .5) / PX - x) < 0.05, (k, x)
        def stroke(x, y, upright, reach):
            # Middle (mm) of the fine line expected at x (y), looked for over +-1 mm, away from the crossing bar.
            if upright:
                part = page[int((y + 1.8) * PX):int((y + reach) * PX), int((x - 1) * PX):int((x + 1) * PX)].mean(0)
                origin = int((x - 1) * PX)
            else:
                part = page[int((y - 1) * PX):int((y + 1) * PX), int((x + .6) * PX):int((x + reach) * PX)].mean(1)
                origin = int((y - 1) * PX)
            ink = np.clip(200 - part, 0, None)
            assert ink.max() > 100, ('no line', x, y)
            return (origin + (ink * (np.arange(len(ink)) + .5)).sum() / ink.sum()) / PX
        for k in range(4):
            first, last = box[5 * k], box[5 * k + 4]
            centre = ((first[0] + first[2] / 2) + (last[0] + last[2] / 2)) / 2 / PX
            y = (first[1] + first[3] / 2) / PX
            for bar in (140.0, 230.0):
                length = stroke(centre + bar / 2, y, True, 3.6) - stroke(centre - bar / 2, y, True, 3.6)
                assert abs(length - bar) < 0.05, (k, bar, length)
        top = (h - 180) / 2
        across = stroke(9.5, top + 180, False, 1.8) - stroke(9.5, top, False, 1.8)
        assert abs(across - 180) < 0.05, across
        text = subprocess.run(['pdftotext', '-layout', pdf, '-'], check=True, capture_output=True, text=True).stdout
        assert text.count('tape both ends flat') == 4 and 'strip_bar_mm' in text and 'Print at 100 %' in text
    print('strips: 40 markers of 20 mm, centres 50 mm apart, end lines 250 mm apart, bars 140, 230 and 180 mm, all within 0.05 mm at %d dpi' % DPI)
