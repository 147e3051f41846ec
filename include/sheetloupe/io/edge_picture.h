// An edge photo with the reading drawn on it: face lines, a ply ruler, places to look at.
#pragma once

#include <filesystem>
#include <opencv2/core.hpp>

#include "sheetloupe/photo.h"
#include "sheetloupe/plies.h"

namespace sheetloupe {

/// CV_8UC3, shrunk by a whole factor to 1300 to 3000 px where it is larger; the photo itself is not changed.
cv::Mat draw_edge(const Photo& photo, const EdgeReading& edge);

/// The same as a PNG file, written whole or not at all.
void write_edge_picture(const std::filesystem::path& path, const Photo& photo, const EdgeReading& edge);

}  // namespace sheetloupe
