#include "sheetloupe/rectify.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe {
namespace {

struct Extent {
  double left = 1e12, top = 1e12, right = -1e12, bottom = -1e12;
  void add(SheetPoint p) {
    left = std::min(left, p.x);
    right = std::max(right, p.x);
    top = std::min(top, p.y);
    bottom = std::max(bottom, p.y);
  }
};

Extent extent_of(const SheetMap& map, const Outline& outline) {
  Extent extent;
  for (const ImagePoint& p : outline.corners_px) extent.add(map.sheet_from_image(p));
  for (const ImagePoint& p : outline.polygon_px) extent.add(map.sheet_from_image(p));
  return extent;
}

// The photo's coarsest scale over the face: the longest side of the image of a 1 mm step, at corners and middle.
double coarsest_mm_per_px(const SheetMap& map, const Outline& outline) {
  double finest_px = 1e12;
  SheetPoint middle;
  for (const ImagePoint& c : outline.corners_px) {
    const SheetPoint p = map.sheet_from_image(c);
    middle = {middle.x + p.x / 4, middle.y + p.y / 4};
  }
  const auto look = [&](SheetPoint p) {
    const ImagePoint a = map.image_from_sheet(p), b = map.image_from_sheet({p.x + 1, p.y}),
                     c = map.image_from_sheet({p.x, p.y + 1});
    finest_px = std::min({finest_px, distance_px(a, b), distance_px(a, c)});
  };
  look(middle);
  for (const ImagePoint& c : outline.corners_px) look(map.sheet_from_image(c));
  return 1.0 / finest_px;
}

// Where every pixel of the flat picture lies in the photo: the map on every 16th pixel, bilinear between. A phone lens
// bends by less than 1e-3 px over 16 px, far below what interpolation of the photo itself adds.
cv::Mat2f source_places(const RectifiedSheet& sheet, const SheetMap& map, const cv::Size& size) {
  constexpr int kEvery = 16;
  const cv::Size coarse((size.width + kEvery - 1) / kEvery + 1, (size.height + kEvery - 1) / kEvery + 1);
  cv::Mat2f nodes(coarse);
  for (int r = 0; r < coarse.height; ++r) {
    for (int c = 0; c < coarse.width; ++c) {
      const ImagePoint p = map.image_from_sheet(sheet.sheet_from_pixel(c * kEvery, r * kEvery));
      nodes(r, c) = cv::Vec2f(static_cast<float>(p.x), static_cast<float>(p.y));
    }
  }
  cv::Mat2f places(size);
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      const int i = r / kEvery;
      const float v = static_cast<float>(r % kEvery) / kEvery;
      for (int c = 0; c < size.width; ++c) {
        const int j = c / kEvery;
        const float u = static_cast<float>(c % kEvery) / kEvery;
        places(r, c) = (1 - v) * ((1 - u) * nodes(i, j) + u * nodes(i, j + 1)) +
                       v * ((1 - u) * nodes(i + 1, j) + u * nodes(i + 1, j + 1));
      }
    }
  });
  return places;
}

cv::Mat cloth_mask(const RectifiedSheet& sheet, const SheetMap& map, const Outline& outline, const cv::Size& size) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8UC1);
  const auto& polygon = outline.cloth_px.size() >= 3 ? outline.cloth_px : outline.polygon_px;
  constexpr int kShift = 4;  // fillPoly takes sixteenths of a pixel
  std::vector<cv::Point> points;
  for (const ImagePoint& p : polygon) {
    const SheetPoint q = map.sheet_from_image(p);
    points.emplace_back(cvRound(((q.x - sheet.origin.x) / sheet.mm_per_px - 0.5) * (1 << kShift)),
                        cvRound(((q.y - sheet.origin.y) / sheet.mm_per_px - 0.5) * (1 << kShift)));
  }
  if (points.size() >= 3)
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(255), cv::LINE_8, kShift);
  return mask;
}

// Blown-out pixels and a rim of a third of a millimetre, where the lens spills their light.
cv::Mat glare_mask(const cv::Mat& bgr, double mm_per_px) {
  constexpr double kBlown = 250.0, kRimMm = 0.3;
  cv::Mat blown;
  cv::inRange(bgr, cv::Scalar(kBlown, kBlown, kBlown), cv::Scalar(255, 255, 255), blown);
  // A single blown pixel is a glint on a fibre, not glare.
  cv::morphologyEx(blown, blown, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  const int rim = std::max(1, cvRound(kRimMm / mm_per_px));
  cv::dilate(blown, blown, cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * rim + 1, 2 * rim + 1}));
  return blown;
}

}  // namespace

RectifiedSheet rectify(const Photo& photo, const SheetMap& map, const Outline& outline, const RectifyOptions& options) {
  RectifiedSheet sheet;
  const Extent extent = extent_of(map, outline);
  sheet.photo_mm_per_px = coarsest_mm_per_px(map, outline);
  const double area_mm2 = std::max(1.0, (extent.right - extent.left) * (extent.bottom - extent.top));
  sheet.mm_per_px = std::max(options.mm_per_px, std::sqrt(area_mm2 / (options.max_megapixels * 1e6)));
  sheet.origin = {extent.left, extent.top};
  const cv::Size size(std::max(1, cvCeil((extent.right - extent.left) / sheet.mm_per_px)),
                      std::max(1, cvCeil((extent.bottom - extent.top) / sheet.mm_per_px)));
  cv::remap(photo.bgr, sheet.bgr, source_places(sheet, map, size), cv::noArray(), cv::INTER_LINEAR,
            cv::BORDER_REPLICATE);
  sheet.cloth = cloth_mask(sheet, map, outline, size);
  sheet.glare = glare_mask(sheet.bgr, sheet.mm_per_px);
  return sheet;
}

}  // namespace sheetloupe
