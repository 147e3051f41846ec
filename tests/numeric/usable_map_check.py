"""A hand-written usable map goes through `place`; shapely, a library of its own, then holds the plan against the map."""

import json
import math
import pathlib
import subprocess
import sys
import tempfile

from shapely.geometry import Point, Polygon

program = sys.argv[1]
outline = [[0, 0], [200, 0], [200, 90], [110, 90], [110, 170], [0, 170], [0, 0]]
hole = [[40, 40], [60, 40], [60, 60], [40, 60], [40, 40]]
spots = [[[80, 100], [95, 104], [90, 112], [80, 100]], [[150, 20], [156, 22], [152, 28], [150, 20]]]
pinholes = [[30, 120], [120, 40], [170, 60]]


def feature(kind, kind_of_shape, coordinates, **more):
    return {"type": "Feature", "properties": {"kind": kind, **more},
            "geometry": {"type": kind_of_shape, "coordinates": coordinates}}


features = [feature("outline", "Polygon", [outline, hole])]
features += [feature("defect", "Polygon", [s], defect="dry_spot", id=f"D{i}") for i, s in enumerate(spots)]
features += [feature("defect", "Point", p, defect="pinhole", diameter_mm=0.8, id=f"P{i}") for i, p in enumerate(pinholes)]
usable = {"type": "FeatureCollection", "schema_version": 1, "unit": "mm", "frame": "sheet", "position_u95_mm": 0.2,
          "sheet": {"id": "H-001", "thickness_mm": 6.1}, "features": features}
orders = {"schema_version": 1, "saws": [{"name": "30", "outer_mm": 30, "kerf_mm": 1.5}], "web_mm": 2.0,
          "edge_margin_mm": 3.0, "turning_allowance_mm": 0.4, "drill_wander_mm": 0.2, "template_mm": 0.3,
          "rings": [{"name": "A", "inner_diameter_mm": 18.2, "wall_mm": 2.0, "width_mm": 5.0, "count": "fill"}]}

with tempfile.TemporaryDirectory() as name:
    folder = pathlib.Path(name)
    (folder / "map.geojson").write_text(json.dumps(usable))
    (folder / "orders.json").write_text(json.dumps(orders))
    run = subprocess.run([program, "place", folder / "map.geojson", "--orders", folder / "orders.json", "--json"],
                         capture_output=True, text=True, check=True)
plan = json.loads(run.stdout)
sheet = Polygon(outline, [hole])
shapes = {f"D{i}": Polygon(s) for i, s in enumerate(spots)}
shapes |= {f"P{i}": Point(p).buffer(0.4, 256) for i, p in enumerate(pinholes)}
e = 0.4 + math.hypot(0.2, 0.3, 0.2)
centres = [Point(b["centre_mm"]) for b in plan["blanks"]]
assert len(centres) >= 12, f"only {len(centres)} blanks"
for b, c in zip(plan["blanks"], centres):
    # Coordinates are written to a micrometre.
    assert sheet.contains(c) and sheet.boundary.distance(c) >= 18 - 2e-3, b
    assert all(c.distance(o) >= 32.4 - 2e-3 for o in centres if o is not c), b
    clear = math.inf
    for shape in shapes.values():
        clear = min(clear, max(c.distance(shape) - (11.1 + e), (9.1 - e) - c.hausdorff_distance(shape)))
    assert clear >= -3e-3, (b, clear)
    assert abs(clear - b["clearance_mm"]) < 0.01, (b, clear)
    assert set(b["harmless_defects"]) == {k for k, s in shapes.items() if c.distance(s) <= 15}, b
print(f"{len(centres)} blanks hold against shapely; bound {plan['bound']}")
