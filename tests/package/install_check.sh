#!/usr/bin/env bash
# Installs the build into a folder of its own, builds a small program on the installed library, and runs both where the
# source tree cannot help. The flags of the build (sanitizers) must be the stranger's too.
#   install_check.sh BUILD_FOLDER [CXX_FLAGS]
set -euo pipefail
build=$1
consumer=$(cd "$(dirname "$0")/consumer" && pwd)
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
cmake --install "$build" --prefix "$place/usr" >/dev/null
cmake -S "$consumer" -B "$place/consumer" -G Ninja -DCMAKE_PREFIX_PATH="$place/usr" -DCMAKE_BUILD_TYPE=Release \
  -DCMAKE_CXX_FLAGS="${2:-}" >/dev/null
cmake --build "$place/consumer" >/dev/null
"$place/consumer/consumer"
cd /
"$place/usr/bin/sheetloupe" --version
cat >"$place/map.geojson" <<'JSON'
{"type": "FeatureCollection", "schema_version": 1, "unit": "mm", "frame": "sheet", "position_u95_mm": 0.2,
 "sheet": {"id": "H-001", "thickness_mm": 6.1}, "features": [{"type": "Feature", "properties": {"kind": "outline"},
 "geometry": {"type": "Polygon", "coordinates": [[[0,0],[90,0],[90,60],[0,60],[0,0]]]}}]}
JSON
# No saws given: they come from the installed saw kit.
echo '{"schema_version": 1, "rings": [{"inner_diameter_mm": 18, "wall_mm": 2, "width_mm": 5, "count": 2}]}' >"$place/orders.json"
mv "$place/usr" "$place/elsewhere"
"$place/elsewhere/bin/sheetloupe" place "$place/map.geojson" --orders "$place/orders.json" --out "$place/out"
test -s "$place/out/drill-template.pdf"
test -d "$place/elsewhere/share/sheetloupe/models/rubrics"
test -s "$place/elsewhere/share/man/man1/sheetloupe.1"
test -s "$place/elsewhere/share/bash-completion/completions/sheetloupe"
if grep -rqF "${build%/build/*}/" "$place/elsewhere/lib" --include="*.cmake"; then
  echo "the installed CMake files name the source tree" >&2
  exit 1
fi
