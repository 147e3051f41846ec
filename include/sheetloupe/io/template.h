// The drilling plan on paper and on screen: a 1:1 PDF tiled over pages, one SVG in mm, one picture.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/placement.h"
#include "sheetloupe/usable.h"

namespace sheetloupe {

struct TemplateOptions {
  bool letter = false;  // paper; else A4
  bool back = false;    // mirrored, to lie on the back
  // Size of a print over its nominal size, for example 249.5 / 250 measured on a strip of the same printer;
  // [0.95, 1.05]. Everything on the page is divided by it.
  double print_scale = 1.0;
  std::vector<Circle> taken;  // holes already cut: the best lay-on check
};

/// Throws InputError: a map without an outline, a print scale out of range, a sheet beyond 20 x 20 pages.
std::string template_pdf(const UsableMap& map, const Plan& plan, const TemplateOptions& options = {});
/// Coordinates are sheet mm from the datum corner (mirrored for the back). Groups by id: outline, datum, defects,
/// rings, kerf, centres, labels. The same errors.
std::string template_svg(const UsableMap& map, const Plan& plan, const TemplateOptions& options = {});

/// A face laid flat: pixel (r, c) covers sheet mm origin + mm_per_px * [c, c+1] x [r, r+1].
struct FlatPicture {
  cv::Mat bgr;  // CV_8UC3
  double mm_per_px = 0.1;
  SheetPoint origin;
};

/// The plan on the front face, or on plain ground without a picture; CV_8UC3, at most 2400 px on its longer side.
cv::Mat draw_placement(const UsableMap& map, const Plan& plan, const std::optional<FlatPicture>& face = {});

}  // namespace sheetloupe
