#include "plies/profile.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numeric>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::plies {
namespace {

constexpr int kPlaces = 41;

ImagePoint in_photo(const Band& cut, double x, double share) {
  return {x, cut.top.at(x) + share * (cut.bottom.at(x) - cut.top.at(x))};
}

// Along the edge from the left end, px.
double along_px(const Band& cut, double x) { return (x - cut.from_x) * std::hypot(1.0, cut.slope); }

// The outermost places stand on borders of the picture and are left out.
std::vector<std::array<double, 2>> profile_by_caliper(const EdgeReading& reading, const Band& cut, double mm) {
  const double upright = 1 / std::hypot(1.0, cut.slope);
  std::vector<std::array<double, 2>> profile;
  for (int i = 1; i + 1 < kPlaces; ++i) {
    const ImagePoint a = reading.top_px[i], b = reading.bottom_px[i];
    profile.push_back({along_px(cut, a.x) * mm, (b.y - a.y) * upright * mm});
  }
  return profile;
}

// In the plane of the cut, square to the edge's own direction.
std::vector<std::array<double, 2>> profile_by_strip(const FlushStrip& strip, const EdgeReading& reading) {
  const auto middle = [&](std::size_t i) {
    return 0.5 * (strip.mm(reading.top_px[i]) + strip.mm(reading.bottom_px[i]));
  };
  const cv::Point2d start = middle(0), length = middle(kPlaces - 1) - start, along = length / cv::norm(length);
  std::vector<std::array<double, 2>> profile;
  for (std::size_t i = 1; i + 1 < kPlaces; ++i) {
    const cv::Point2d across = strip.mm(reading.bottom_px[i]) - strip.mm(reading.top_px[i]);
    profile.push_back({(middle(i) - start).dot(along), std::abs(along.cross(across))});
  }
  return profile;
}

double mean_thickness(const std::vector<std::array<double, 2>>& profile) {
  double sum = 0;
  for (const auto& place : profile) sum += place[1];
  return sum / static_cast<double>(profile.size());
}

// Right end less left end by a straight line through the profile, so that a tow or a chip at an end is no taper.
double taper_of(const std::vector<std::array<double, 2>>& profile) {
  double sx = 0, sy = 0, sxx = 0, sxy = 0;
  const auto n = static_cast<double>(profile.size());
  for (const auto& [a, t] : profile) {
    sx += a;
    sy += t;
    sxx += a * a;
    sxy += a * t;
  }
  // The profile leaves one step out at both ends.
  const double ends = (profile.back()[0] - profile.front()[0]) * (kPlaces - 1) / (kPlaces - 3);
  return (n * sxy - sx * sy) / std::max(1e-9, n * sxx - sx * sx) * ends;
}

// A picture not square to the edge by 15 degrees is 3.4 % off (cosine), a strip a few millimetres behind the cut by
// about as much.
std::string disagreement(double caliper_mm, const Measured& strip) {
  constexpr double kShare = 0.03;
  if (std::abs(strip.value - caliper_mm) <= std::max(strip.u95, kShare * caliper_mm)) return "";
  char words[300];
  std::snprintf(words, sizeof words,
                "The strip beside the edge makes the thickness %.2f +-%.2f mm, the caliper %.2f mm; the caliper's "
                "figure was used. Either the strip is not flush with the cut or printed off scale, or the caliper sat "
                "on a ridge or on another place.",
                strip.value, strip.u95, caliper_mm);
  return words;
}

}  // namespace

void fill_profile(EdgeReading& reading, const Band& cut, std::optional<double> thickness_mm,
                  const std::optional<FlushStrip>& strip) {
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
  if (cut.height_px <= 0) return;
  std::vector<std::array<double, 2>> by_strip;
  if (strip) {
    by_strip = profile_by_strip(*strip, reading);
    const double mean = mean_thickness(by_strip);
    const double share = strip->share_u95(reading.top_px[kPlaces / 2], reading.bottom_px[kPlaces / 2]);
    reading.strip_thickness_mm = Measured{mean, mean * std::hypot(share, reading.band_u95_px / cut.height_px)};
  }
  double one_px_u95 = std::hypot(1.96 * scatter / std::sqrt(3.0), 0.6), common_u95 = 0;
  if (thickness_mm) {
    reading.scale_source = EdgeScaleSource::caliper;
    reading.thickness_mean_mm = *thickness_mm;
    if (strip) {
      // A tilted photo shows one end larger: the strip tells which, the caliper how thick the edge is.
      for (auto& place : by_strip) place[1] *= *thickness_mm / reading.strip_thickness_mm->value;
      reading.thickness_at_mm = std::move(by_strip);
      reading.scale_remark = disagreement(*thickness_mm, *reading.strip_thickness_mm);
    } else {
      reading.thickness_at_mm = profile_by_caliper(reading, cut, *thickness_mm / cut.height_px);
    }
  } else if (strip) {
    reading.scale_source = EdgeScaleSource::strip;
    reading.thickness_mean_mm = reading.strip_thickness_mm->value;
    reading.thickness_at_mm = std::move(by_strip);
    common_u95 = reading.strip_thickness_mm->u95;
  } else {
    return;
  }
  reading.mm_per_px = reading.thickness_mean_mm / cut.height_px;
  reading.thickness_u95_mm = std::hypot(*reading.mm_per_px * one_px_u95, common_u95);
  reading.thickness_min_mm = 1e9;
  for (const auto& [along, t] : reading.thickness_at_mm) {
    reading.thickness_min_mm = std::min(reading.thickness_min_mm, t);
    reading.thickness_max_mm = std::max(reading.thickness_max_mm, t);
  }
  reading.taper_mm = taper_of(reading.thickness_at_mm);
}

namespace {

// Standard error of a mean of neighbours that are alike: sd sqrt((1 + r) / (1 - r) / n), r the correlation at one step
// (Bayley and Hammersley 1946, first order; from memory). Whole rows scatter by 1/12 more.
double mean_error_rows(const std::vector<double>& track) {
  const auto n = static_cast<double>(track.size());
  const double mean = std::accumulate(track.begin(), track.end(), 0.0) / n;
  double square = 0, next = 0;
  for (std::size_t i = 0; i < track.size(); ++i) {
    square += (track[i] - mean) * (track[i] - mean);
    if (i > 0) next += (track[i] - mean) * (track[i - 1] - mean);
  }
  constexpr double kMostAlike = 0.95, kRounding = 1.0 / 12;
  const double alike = square > 0 ? std::clamp(next / square, 0.0, kMostAlike) : 0.0;
  return std::sqrt((square / n + kRounding) * (1 + alike) / (1 - alike) / n);
}

// 95 % half width of one ply as a share of all: two lines' standard errors make 1.96 sqrt(2) = 2.8 of them. A line may
// also follow a streak beside the border all along, which its own scatter hardly tells: with 4.5 the figure holds for
// 95 % of 85 generated edges' plies (93 % where the lines are faint, 96 % where they are clear).
double ply_u95_share(const Hypothesis& lines, int rows) {
  constexpr double kPerError = 4.5;
  double square = 0;
  for (const auto& track : lines.tracks) square += std::pow(mean_error_rows(track), 2);
  return kPerError * std::sqrt(square / static_cast<double>(lines.tracks.size())) / rows;
}

}  // namespace

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
  if (!lines.tracks.empty())
    reading.ply_thickness_u95_mm = ply_u95_share(lines, evidence_rows) * reading.thickness_mean_mm;
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
