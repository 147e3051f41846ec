"""Area and diameter of every find in the photographed test sheets, held against scikit-image's regionprops
(van der Walt et al., "scikit-image: image processing in Python", PeerJ 2:e453, 2014) on the written label map."""

import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from skimage.io import imread
from skimage.measure import label, regionprops

program = sys.argv[1]
sheets = pathlib.Path(__file__).resolve().parents[2] / "test_images"
CODE = {"dry_spot": 1, "pinhole": 2, "resin_rich": 3}
compared = {kind: 0 for kind in CODE}
for name in ("H-010", "H-011", "H-012"):
    with tempfile.TemporaryDirectory() as out:
        subprocess.run([program, "inspect", sheets / name, "--out", out], check=True, capture_output=True)
        defects = json.loads((pathlib.Path(out) / "report.json").read_text())["faces"][0]["defects"]
        raster = imread(pathlib.Path(out) / defects["map"]["file"])
    step, origin = defects["map"]["mm_per_px"], np.array(defects["map"]["origin_mm"])
    parts = {kind: label(raster == code, connectivity=2) for kind, code in CODE.items()}
    for item in defects["items"]:
        column, row = ((np.array(item["centre_mm"]) - origin) / step).astype(int)
        part = parts[item["kind"]]
        near = part[max(row - 9, 0) : row + 10, max(column - 9, 0) : column + 10]
        found = np.unique(near[near > 0])
        if len(found) != 1:
            continue  # two finds that touch share one part of the map
        region = regionprops((part == found[0]).astype(np.uint8))[0]
        area = region.area * step**2
        if item["kind"] == "pinhole":
            mine, reference, room = item["max_diameter_mm"], region.equivalent_diameter_area * step, 2 * step
        else:
            assert abs(item["area_mm2"] - area) <= 0.01 * area + 2 * step**2, (name, item["id"], item["area_mm2"], area)
            # Corners of the outline are simplified by 0.7 px and pushed out by 0.6 px; Feret's runs over pixel corners.
            mine, reference, room = item["max_diameter_mm"], region.feret_diameter_max * step, 3 * step
        assert abs(mine - reference) <= room, (name, item["id"], item["kind"], mine, reference)
        compared[item["kind"]] += 1
print("agree with regionprops:", compared)
assert compared["dry_spot"] >= 2 and compared["pinhole"] >= 2, compared
