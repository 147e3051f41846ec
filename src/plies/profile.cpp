#include "plies/profile.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::plies {
namespace {

constexpr int kPlaces = 41;

ImagePoint in_photo(const Band& cut, double x, double share) {
  return {x, cut.top.at(x) + share * (cut.bottom.at(x) - cut.top.at(x))};
}

// Along the edge from the left end, px.
double along_px(const Band& cut, double x) { return (x - cut.from_x) * std::hypot(1.0, cut.slope); }

}  // namespace

void fill_profile(EdgeReading& reading, const Band& cut, std::optional<double> thickness_mm) {
  reading.band_px = cut.height_px;
  // The two lines' scatter over some seven neighbouring places each, and what blur and sharpening may shift both by.
  const double scatter = std::hypot(cut.top.rms_px, cut.bottom.rms_px);
  const double places = std::max(1.0, static_cast<double>(cut.top.y.size()) / 7.0);
  reading.band_u95_px = std::hypot(1.96 * scatter / std::sqrt(places), 0.6);
  for (int i = 0; i < kPlaces; ++i) {
    const double x = cut.from_x + (cut.to_x - cut.from_x) * i / (kPlaces - 1);
    reading.top_px.push_back(in_photo(cut, x, 0));
    reading.bottom_px.push_back(in_photo(cut, x, 1));
  }
  if (!thickness_mm || cut.height_px <= 0) return;
  const double mm = *thickness_mm / cut.height_px, upright = 1 / std::hypot(1.0, cut.slope);
  reading.mm_per_px = mm;
  reading.thickness_mean_mm = *thickness_mm;
  reading.thickness_min_mm = 1e9;
  // The outermost places stand on borders of the picture and are left out.
  for (int i = 1; i + 1 < kPlaces; ++i) {
    const double x = reading.top_px[i].x, t = (reading.bottom_px[i].y - reading.top_px[i].y) * upright * mm;
    reading.thickness_at_mm.push_back({along_px(cut, x) * mm, t});
    reading.thickness_min_mm = std::min(reading.thickness_min_mm, t);
    reading.thickness_max_mm = std::max(reading.thickness_max_mm, t);
  }
  reading.thickness_u95_mm = mm * std::hypot(1.96 * scatter / std::sqrt(3.0), 0.6);
  // The ends by a straight line through the profile, so that a tow or a chip at an end is no taper.
  double sx = 0, sy = 0, sxx = 0, sxy = 0;
  const auto n = static_cast<double>(reading.thickness_at_mm.size());
  for (const auto& [a, t] : reading.thickness_at_mm) {
    sx += a;
    sy += t;
    sxx += a * a;
    sxy += a * t;
  }
  const double slope = (n * sxy - sx * sy) / std::max(1e-9, n * sxx - sx * sx);
  reading.taper_mm = slope * along_px(cut, cut.to_x) * mm;
}

void fill_plies(EdgeReading& reading, const Band& cut, const Hypothesis& lines, int evidence_rows) {
  std::vector<double> mean_rows = {0.0};
  for (const auto& track : lines.tracks) {
    std::vector<ImagePoint> points;
    double sum = 0;
    for (std::size_t w = 0; w < track.size(); ++w) {
      const double x =
          cut.from_x + (static_cast<double>(w) + 0.5) * (cut.to_x - cut.from_x) / static_cast<double>(track.size());
      points.push_back(in_photo(cut, x, (track[w] + 0.5) / evidence_rows));
      sum += track[w] + 0.5;
    }
    reading.line_px.push_back(std::move(points));
    mean_rows.push_back(sum / static_cast<double>(track.size()));
  }
  mean_rows.push_back(evidence_rows);
  if (!reading.mm_per_px) return;
  for (std::size_t k = 0; k + 1 < mean_rows.size(); ++k)
    reading.ply_thickness_mm.push_back((mean_rows[k + 1] - mean_rows[k]) / evidence_rows * reading.thickness_mean_mm);
}

void fill_marks(EdgeReading& reading, const Band& cut, const cv::Mat1f& straight, double ply_rows) {
  // Against the surroundings, so that shadows and smears do not count; resin lines are dark too, so only what is darker
  // than the darkest hundredth of the edge is marked.
  cv::Mat1f around, ratio;
  cv::blur(straight, around, {std::max(3, straight.cols / 12), std::max(3, cvRound(1.5 * ply_rows))}, {-1, -1},
           cv::BORDER_REFLECT);
  cv::divide(straight, around + 4.0, ratio);
  std::vector<float> values;
  for (int r = 0; r < ratio.rows; ++r) {
    for (int c = r % 4; c < ratio.cols; c += 4) values.push_back(ratio(r, c));
  }
  const auto low = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 100);
  std::nth_element(values.begin(), low, values.end());
  const double limit = std::min(0.62, 0.85 * *low);
  cv::Mat mask = ratio < limit, labels, stats, centres;
  // The faces' own borders are dark or bright and no gaps.
  const int skin = std::max(2, cvRound(0.15 * ply_rows));
  mask.rowRange(0, std::min(skin, mask.rows)).setTo(0);
  mask.rowRange(std::max(0, mask.rows - skin), mask.rows).setTo(0);
  cv::morphologyEx(mask, mask, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {9, 3}));
  const int count = cv::connectedComponentsWithStats(mask, labels, stats, centres, 8);
  const double px_per_column = (cut.to_x - cut.from_x) / straight.cols, rows = straight.rows;
  const double column_in_rows = px_per_column * rows / std::max(1.0, cut.height_px);
  for (int i = 1; i < count; ++i) {
    const int left = stats.at<int>(i, cv::CC_STAT_LEFT), top = stats.at<int>(i, cv::CC_STAT_TOP);
    const int width = stats.at<int>(i, cv::CC_STAT_WIDTH), height = stats.at<int>(i, cv::CC_STAT_HEIGHT);
    const double area = stats.at<int>(i, cv::CC_STAT_AREA) * column_in_rows, length = width * column_in_rows;
    const bool gap = width > 0.08 * straight.cols && length > 2.2 * ply_rows && length > 8.0 * height;
    const bool spot = !gap && area > 0.02 * ply_rows * ply_rows && height >= 3 && length < 3 * ply_rows &&
                      area > 0.4 * length * height;
    if (!gap && !spot) continue;
    EdgeMark mark;
    mark.kind = gap ? "delamination" : "void";
    const double x0 = cut.from_x + left * px_per_column, x1 = x0 + width * px_per_column;
    const double unit = reading.mm_per_px.value_or(1.0), a = top / rows, b = (top + height) / rows;
    mark.from_mm = along_px(cut, x0) * unit;
    mark.to_mm = along_px(cut, x1) * unit;
    if (reading.plies)
      mark.below_ply = std::clamp(cvRound(centres.at<double>(i, 1) / ply_rows), 1, std::max(1, *reading.plies - 1));
    mark.box_px = {in_photo(cut, x0, a), in_photo(cut, x1, a), in_photo(cut, x1, b), in_photo(cut, x0, b)};
    reading.marks.push_back(mark);
  }
}

}  // namespace sheetloupe::plies
