// Brings another photo of the same untouched layout into the first photo's sheet frame, through the strips.
#pragma once

#include <memory>
#include <vector>

#include "sheetloupe/markers.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {

struct Registration {
  std::shared_ptr<const SheetMap> map;  // second photo, first photo's sheet frame; null when not possible
  double residual_mm = 0.0;             // rms disagreement of the strips' corners between the two photos
};

/// Both photos must show at least two markers with the same ids. The strips lie `below` mm under the face in both
/// maps, so their corners on the face plane differ by a rigid motion plus a parallax that the common depth cancels.
Registration register_photo(const SheetMap& first, const std::vector<Marker>& first_markers,
                            std::shared_ptr<const SheetMap> second, const std::vector<Marker>& second_markers,
                            Mm below);

}  // namespace sheetloupe
