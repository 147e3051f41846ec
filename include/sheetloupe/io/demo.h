// The demo sheet of the invented Harrow Lane workshop: photos from the scene generator with their truth beside them.
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "sheetloupe/io/log.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {

/// Sheet H-001 as it "is".
SceneSheet demo_sheet();

/// Writes FOLDER/H-001 with front.jpg, back.jpg, edge-*.jpg, sheet.json, orders.json and truth.json; gives its path.
/// `progress` is told before each picture.
std::filesystem::path write_demo(const std::filesystem::path& folder,
                                 const std::function<void(const std::string&)>& progress = {});

/// Twenty-nine invented sheets H-002 to H-030 of the same workshop, figures only, for the log beside H-001. What they
/// are made to show: warmer resin gives fewer pinholes, more clamps less resin-rich area, one place of the mould
/// gathers pinholes, the last sheet's cloth was dragged.
std::vector<Inspected> demo_log_sheets();

/// What became of their blanks, as a maker would log it.
std::vector<LogOutcome> demo_log_outcomes(const std::vector<Inspected>& sheets);

/// JPEG bytes of a picture with the EXIF a phone would write.
std::string phone_jpeg(const cv::Mat& bgr, int focal_35mm_mm, int quality = 92);

}  // namespace sheetloupe
