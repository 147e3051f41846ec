"""A photographed sheet is inspected; shapely, a library of its own, then takes the barred places off the outline and
holds the usable parts of the map against the rest."""

import json
import pathlib
import subprocess
import sys
import tempfile

from shapely.geometry import Point, shape
from shapely.ops import unary_union

program = sys.argv[1]
photographed = pathlib.Path(__file__).resolve().parents[2] / "test_images" / "H-010"
with tempfile.TemporaryDirectory() as out:
    subprocess.run([program, "inspect", photographed, "--out", out], check=True, capture_output=True)
    features = json.loads((pathlib.Path(out) / "usable.geojson").read_text())["features"]
    report = json.loads((pathlib.Path(out) / "report.json").read_text())


def of_kind(*kinds):
    for feature in features:
        if feature["properties"]["kind"] in kinds:
            geometry = shape(feature["geometry"])
            if isinstance(geometry, Point):
                geometry = geometry.buffer(feature["properties"]["diameter_mm"] / 2, 64)
            yield geometry.buffer(0)


outline = unary_union(list(of_kind("outline")))
barred = unary_union(list(of_kind("defect", "weave_zone", "not_judged", "taken")))
usable = unary_union(list(of_kind("usable")))
left = outline.difference(barred)
assert barred.area > 0, "nothing is barred: the check would show nothing"
assert abs(usable.area - left.area) < 1e-3 * left.area, (usable.area, left.area)
# Coordinates are written to a micrometre: a thousandth of the outline's length in mm2.
assert usable.difference(outline).area < 1e-3 * outline.length, "usable beyond the outline"
assert usable.intersection(barred).area < 1e-3 * left.area, "usable where barred"
assert abs(report["usable"]["area_mm2"] - left.area) < 1e-3 * left.area, report["usable"]
assert abs(report["usable"]["fraction"] - left.area / outline.area) < 1e-3, report["usable"]
print(f"{usable.area:.1f} mm2 usable of {outline.area:.1f}; shapely has {left.area:.1f}")
