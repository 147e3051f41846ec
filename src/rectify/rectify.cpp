#include "sheetloupe/rectify.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

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

// The part of the photo that shows the face, shrunk by a whole factor where the flat picture is that much coarser:
// every photo pixel takes part, and detail too fine for the flat picture is averaged instead of folded into a pattern.
struct Source {
  cv::Mat bgr, blown;  // `blown`: CV_8UC1, 255 where the photo is blown out
  cv::Point offset;    // photo px of the part's first pixel
  int shrink = 1;
  cv::Vec2f from_photo(ImagePoint p) const {
    return {static_cast<float>((p.x - offset.x + 0.5) / shrink - 0.5),
            static_cast<float>((p.y - offset.y + 0.5) / shrink - 0.5)};
  }
};

cv::Mat blown_out(const cv::Mat& bgr, const cv::Vec3d& levels) {
  cv::Mat blown;
  cv::inRange(bgr, levels, cv::Scalar(255, 255, 255), blown);
  // A single blown pixel is a glint on a fibre, not glare.
  cv::morphologyEx(blown, blown, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
  return blown;
}

Source source_of(const Photo& photo, const SheetMap& map, const Extent& extent, double shrink,
                 const cv::Vec3d& levels) {
  Source source;
  source.shrink = std::max(1, static_cast<int>(shrink));
  constexpr int kSteps = 16, kMarginPx = 8;  // a bent side bulges by less than that between the steps
  double left = 1e12, top = 1e12, right = -1e12, bottom = -1e12;
  for (int i = 0; i <= kSteps; ++i) {
    for (int j = 0; j <= kSteps; ++j) {
      const ImagePoint p = map.image_from_sheet({extent.left + (extent.right - extent.left) * i / kSteps,
                                                 extent.top + (extent.bottom - extent.top) * j / kSteps});
      left = std::min(left, p.x), right = std::max(right, p.x);
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    }
  }
  cv::Rect part(cv::Point(static_cast<int>(std::clamp(left - kMarginPx, -1.0, 1e6)),
                          static_cast<int>(std::clamp(top - kMarginPx, -1.0, 1e6))),
                cv::Point(static_cast<int>(std::clamp(right + kMarginPx, 0.0, 1e6)),
                          static_cast<int>(std::clamp(bottom + kMarginPx, 0.0, 1e6))));
  part &= cv::Rect({}, photo.bgr.size());
  if (part.empty()) part = cv::Rect({}, photo.bgr.size());
  // Whole groups of pixels only.
  if (part.width >= source.shrink) part.width -= part.width % source.shrink;
  if (part.height >= source.shrink) part.height -= part.height % source.shrink;
  source.offset = part.tl();
  source.bgr = photo.bgr(part);
  source.blown = blown_out(source.bgr, levels);
  if (source.shrink > 1) {
    const cv::Size small(std::max(1, part.width / source.shrink), std::max(1, part.height / source.shrink));
    cv::Mat bgr, blown;
    cv::resize(source.bgr, bgr, small, 0, 0, cv::INTER_AREA);
    cv::resize(source.blown, blown, small, 0, 0, cv::INTER_AREA);
    source.bgr = bgr;
    source.blown = blown > 8;  // a blown patch that covers a thirtieth of a group of pixels spoils the group's mean
  }
  return source;
}

// Where every pixel of the flat picture lies in the photo: the map on every 16th pixel, bilinear between. A phone lens
// bends by less than 1e-3 px over 16 px, far below what interpolation of the photo itself adds.
class Places {
 public:
  Places(const RectifiedSheet& sheet, const SheetMap& map, const Source& source, const cv::Size& size)
      : size_(size), nodes_((size.height + kEvery - 1) / kEvery + 1, (size.width + kEvery - 1) / kEvery + 1) {
    for (int r = 0; r < nodes_.rows; ++r) {
      for (int c = 0; c < nodes_.cols; ++c) {
        const ImagePoint p = map.image_from_sheet(sheet.sheet_from_pixel(c * kEvery, r * kEvery));
        nodes_(r, c) = source.from_photo(p);
      }
    }
  }

  cv::Mat2f rows(const cv::Range& range) const {
    cv::Mat2f places(range.size(), size_.width);
    for (int r = range.start; r < range.end; ++r) {
      const int i = r / kEvery;
      const float v = static_cast<float>(r % kEvery) / kEvery;
      const cv::Vec2f *above = nodes_[i], *below = nodes_[i + 1];
      cv::Vec2f* to = places[r - range.start];
      for (int c = 0; c < size_.width; ++c) {
        const int j = c / kEvery;
        const float u = static_cast<float>(c % kEvery) / kEvery;
        to[c] = (1 - v) * ((1 - u) * above[j] + u * above[j + 1]) + v * ((1 - u) * below[j] + u * below[j + 1]);
      }
    }
    return places;
  }

 private:
  static constexpr int kEvery = 16;
  cv::Size size_;
  cv::Mat2f nodes_;
};

// Photo and blown places laid flat, band by band: the places of a band stay in the cache, those of all pixels would
// take three times as much memory as the picture.
void lay_flat(const Source& source, const Places& places, cv::Mat& bgr, cv::Mat& blown) {
  constexpr int kBandRows = 64;
  cv::parallel_for_(cv::Range(0, (bgr.rows + kBandRows - 1) / kBandRows), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const cv::Range rows(i * kBandRows, std::min((i + 1) * kBandRows, bgr.rows));
      const cv::Mat2f band = places.rows(rows);
      cv::Mat picture = bgr.rowRange(rows), glare = blown.rowRange(rows);
      cv::remap(source.bgr, picture, band, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
      cv::remap(source.blown, glare, band, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    }
  });
}

// Every pixel whose centre lies inside the polygon (even-odd): a border pixel is neither gained nor lost on average.
cv::Mat cloth_mask(const RectifiedSheet& sheet, const SheetMap& map, const Outline& outline, const cv::Size& size) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8UC1);
  const auto& polygon = outline.cloth_px.size() >= 3 ? outline.cloth_px : outline.polygon_px;
  std::vector<cv::Point2d> points;
  for (const ImagePoint& p : polygon) {
    const SheetPoint q = map.sheet_from_image(p);
    points.emplace_back((q.x - sheet.origin.x) / sheet.mm_per_px - 0.5, (q.y - sheet.origin.y) / sheet.mm_per_px - 0.5);
  }
  std::vector<double> crossings;
  for (int r = 0; r < size.height && points.size() >= 3; ++r) {
    crossings.clear();
    for (std::size_t i = 0; i < points.size(); ++i) {
      const cv::Point2d &a = points[i], &b = points[(i + 1) % points.size()];
      if ((a.y <= r) != (b.y <= r)) crossings.push_back(a.x + (b.x - a.x) * (r - a.y) / (b.y - a.y));
    }
    std::sort(crossings.begin(), crossings.end());
    for (std::size_t i = 0; i + 1 < crossings.size(); i += 2) {
      const int from = static_cast<int>(std::clamp(std::ceil(crossings[i]), 0.0, static_cast<double>(size.width))),
                to = static_cast<int>(std::clamp(std::floor(crossings[i + 1]), -1.0, size.width - 1.0));
      if (to >= from) mask(cv::Range(r, r + 1), cv::Range(from, to + 1)) = 255;
    }
  }
  return mask;
}

// Blown-out places and a rim of a third of a millimetre, where the lens spills their light. Judged in the photo's own
// pixels: averaging with sound neighbours would hide a small one.
cv::Mat glare_mask(cv::Mat blown, double mm_per_px) {
  constexpr double kRimMm = 0.3;
  cv::threshold(blown, blown, 127, 255, cv::THRESH_BINARY);
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
  const Source source = source_of(photo, map, extent, sheet.mm_per_px / sheet.photo_mm_per_px, options.blown);
  cv::Mat blown(size, CV_8UC1);
  sheet.bgr.create(size, CV_8UC3);
  lay_flat(source, Places(sheet, map, source, size), sheet.bgr, blown);
  sheet.cloth = cloth_mask(sheet, map, outline, size);
  sheet.glare = glare_mask(blown, sheet.mm_per_px);
  return sheet;
}

}  // namespace sheetloupe
