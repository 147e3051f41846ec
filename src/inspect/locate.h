// Where the face lies in a photo and how its pixels count: markers, scale and outline, in turns.
#pragma once

#include "sheetloupe/inspect.h"
#include "sheetloupe/markers.h"

namespace sheetloupe {

// What one photo of a face tells before anything is measured on the face itself.
struct Located {
  std::vector<Marker> markers;
  Outline outline;
  Scale scale;
  bool mirrored = false;  // the strips read only in the mirror
  cv::Mat face;           // CV_8UC1, photo frame, 255 within the sides; empty where they were not found
  cv::Vec3d blown;        // B, G, R from which the face is blown out; see blown_levels
  std::vector<std::string> advice;
};

/// `standards`: as this face shows them. `tell`: what is being done.
Located locate(const Photo& photo, const LengthStandards& standards, const InspectInput& input,
               const InspectOptions& options, const std::function<void(const std::string& stage)>& tell);

/// As told, else what is taken when neither the user nor an edge says how thick the sheet is (contract, section 2).
Mm thickness_of(const LengthStandards& standards);

}  // namespace sheetloupe
