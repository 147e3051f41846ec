#include "sheetloupe/io/new_folder.h"

namespace sheetloupe {

std::string sheet_example_text() {
  return R"(// Every key that sheet.json may hold. Copy what you know into sheet.json, without the comments (JSON has none),
// and leave the rest out: a wrong figure does more harm than a missing one. Lengths are millimetres.
{
  "schema_version": 1,
  "id": "H-014",                  // the sheet's name; without it the folder's
  "made": "2026-03-02",           // the day it was laid up

  // The scale. Any one will do, the best is used: two sides of the sheet by caliper, the 140 mm pair of cross lines on
  // a strip by caliper, a strip's whole length by rule.
  "size_mm": [240.0, 180.0],      // top side, left side
  "size_u95_mm": 0.2,             // how far a reading may be off: 0.2 by caliper, 0.6 by rule; for all sheet lengths
  "strip_bar_mm": 140.0,          // between the pair of cross lines, as your printer printed it
  "strip_length_mm": 250.0,       // between the end lines, as your printer printed it
  "strip_height_mm": 0.0,         // strips glued on card: how thick

  // Without strips: four sides and one or two diagonals.
  "sides_mm": [240.0, 180.1, 239.8, 180.0],   // top, right, bottom, left
  "diagonals_mm": [300.1, 299.7],

  "thickness_mm": 6.1,            // by caliper; matters for the scale too, since the face lies above the strips
  "thickness_at_mm": [[0, 0, 6.2], [240, 0, 6.0], [240, 180, 5.9], [0, 180, 6.1]],   // x, y, thickness
  "edge_from_mm": {"top": 40.0},  // edge photo: how far its left end lies from the side's left end, seen from outside

  "top": "strip-0",               // the sheet's top side is the one beside this strip
  "turned": "left-right",         // how the sheet was turned for the back photo; or "top-bottom"
  "warp": "x",                    // which way the warp runs in the photo; or "y"

  "plies_laid": 12,
  "fabric": "twill-2x2-6k-300",
  "recipe": {"resin_g": 310, "cure_h": 24, "clamps": 8, "mould": "coated board", "note": "any keys you like"}
}
)";
}

}  // namespace sheetloupe
