// The demo sheet of the invented Harrow Lane workshop: photos from the scene generator with their truth beside them.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

#include "sheetloupe/scene.h"

namespace sheetloupe {

/// Sheet H-001 as it "is".
SceneSheet demo_sheet();

/// Writes FOLDER/H-001 with front.jpg, back.jpg, edge-*.jpg, sheet.json, orders.json and truth.json; gives its path.
/// `progress` is told before each picture.
std::filesystem::path write_demo(const std::filesystem::path& folder,
                                 const std::function<void(const std::string&)>& progress = {});

/// JPEG bytes of a picture with the EXIF a phone would write.
std::string phone_jpeg(const cv::Mat& bgr, int focal_35mm_mm, int quality = 92);

}  // namespace sheetloupe
