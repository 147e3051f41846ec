// The photo with what was found drawn on it, in the page's colours and marks.
#pragma once

#include <opencv2/core.hpp>

#include "sheetloupe/inspect.h"

namespace sheetloupe {

/// CV_8UC3, shrunk by a whole factor to 1300 to 3000 px where it is larger; the photo itself is not changed.
cv::Mat draw_overlay(const Photo& photo, const FaceResult& face);

}  // namespace sheetloupe
