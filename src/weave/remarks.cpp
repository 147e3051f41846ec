#include "weave/remarks.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>

namespace sheetloupe::weave {
namespace {

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();
// A lean of 3 degrees is the usual tolerance for ply alignment in composite repair manuals; less is not worth a line.
constexpr double kLeanDeg = 3.0;
// Tows a tenth closer or wider than usual: some five times the scatter of the spacing on straight generated cloth.
constexpr double kSpacingShare = 0.10;
constexpr double kApartMm = 30.0;  // two remarks nearer than this are one place
constexpr std::size_t kMost = 3;   // of a kind

std::string text(const char* format, double a, double b = 0, double x = 0, double y = 0) {
  char buffer[160];
  std::snprintf(buffer, sizeof buffer, format, a, b, x, y);
  return buffer;
}

struct Place {
  cv::Point node;
  double value = 0.0;  // signed
};

SheetPoint position_of(const WeaveAnalysis& w, cv::Point node) {
  return {w.map_origin.x + (node.x + 0.5) * w.map_mm_per_px, w.map_origin.y + (node.y + 0.5) * w.map_mm_per_px};
}

// The places where |value| is above `least` and its own uncertainty, worst first and apart from each other.
std::vector<Place> worst_places(const WeaveAnalysis& w, const cv::Mat1f& values, const cv::Mat1f& u95, double least) {
  std::vector<Place> all, kept;
  for (int r = 0; r < values.rows; ++r) {
    for (int c = 0; c < values.cols; ++c) {
      const double v = values(r, c);
      if (!std::isnan(v) && std::abs(v) - u95(r, c) >= least) all.push_back({{c, r}, v});
    }
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const Place& a, const Place& b) { return std::abs(a.value) > std::abs(b.value); });
  for (const Place& place : all) {
    if (kept.size() == kMost) break;
    const bool near = std::any_of(kept.begin(), kept.end(), [&](const Place& k) {
      return cv::norm(k.node - place.node) * w.map_mm_per_px < kApartMm;
    });
    if (!near) kept.push_back(place);
  }
  return kept;
}

// Relative departure of the local tow spacing from its median, over three nodes each way; NaN where the directions are.
cv::Mat1f spacing_departure(const cv::Mat1f& count, const cv::Mat1f& where, double step_mm, double usual_mm) {
  constexpr int kReach = 3;
  cv::Mat1f departure(where.size(), kNan);
  for (int r = kReach; r + kReach < where.rows; ++r) {
    for (int c = kReach; c + kReach < where.cols; ++c) {
      const auto known = [&](int dr, int dc) { return !std::isnan(where(r + dr, c + dc)); };
      if (!known(0, 0) || !known(-kReach, 0) || !known(kReach, 0) || !known(0, -kReach) || !known(0, kReach)) continue;
      const double gx = count(r, c + kReach) - count(r, c - kReach), gy = count(r + kReach, c) - count(r - kReach, c);
      const double spacing = 2 * kReach * step_mm / std::max(1e-6, std::hypot(gx, gy));
      departure(r, c) = static_cast<float>(spacing / usual_mm - 1.0);
    }
  }
  return departure;
}

void tell_leans(const WeaveAnalysis& w, const cv::Mat1f& axes, Axis mean, const std::string& name,
                std::vector<std::string>& out) {
  cv::Mat1f turn(axes.size(), kNan);
  for (int r = 0; r < axes.rows; ++r) {
    for (int c = 0; c < axes.cols; ++c) {
      if (!std::isnan(axes(r, c))) turn(r, c) = static_cast<float>(wrap_turn_degrees(axes(r, c) - mean.degrees()));
    }
  }
  for (const Place& place : worst_places(w, turn, w.u95_deg, kLeanDeg)) {
    const SheetPoint at = position_of(w, place.node);
    const double u95 = kWorstOfMany * w.u95_deg.at<float>(place.node);
    out.push_back(name + text(" leans %.1f +-%.1f deg at %.0f, %.0f mm", std::abs(place.value), u95, at.x, at.y) +
                  (place.value > 0 ? ", counter-clockwise" : ", clockwise"));
  }
}

void tell_spacing(const WeaveAnalysis& w, const cv::Mat1f& count, Mm usual, const std::string& name,
                  std::vector<std::string>& out) {
  if (count.size() != w.warp_deg.size()) return;
  const cv::Mat1f departure = spacing_departure(count, w.warp_deg, w.map_mm_per_px, usual.value());
  for (const Place& place : worst_places(w, departure, cv::Mat1f::zeros(departure.size()), kSpacingShare)) {
    const SheetPoint at = position_of(w, place.node);
    // A count's gradient is as good along itself as across: on five generated photos, drags among them, 99 of 100
    // places are within 0.8 of the directions' own u95.
    const double u95 = std::ceil(100 * w.u95_deg.at<float>(place.node) * CV_PI / 180);
    out.push_back(name + text(" tows lie %.0f +-%.0f %% ", 100 * std::abs(place.value), u95) +
                  (place.value > 0 ? "wider" : "closer") + text(" than usual at %.0f, %.0f mm", at.x, at.y));
  }
}

void tell_tow_faults(const WeaveAnalysis& w, std::vector<std::string>& out) {
  for (const TowFault& f : w.tow_faults) {
    char stretch[160];
    std::snprintf(stretch, sizeof stretch, " from %.0f, %.0f to %.0f, %.0f mm", f.from.x, f.from.y, f.to.x, f.to.y);
    out.push_back(std::string(f.warp ? "a warp tow is " : "a weft tow is ") +
                  (f.whole ? "missing" : "broken or missing") + stretch +
                  (f.closed_up ? ", its neighbours closed up" : ", its gap open"));
  }
}

// Cloth laid square is told how far it is off; a bias lay-up is meant to be.
void tell_straightness(const WeaveAnalysis& w, std::vector<std::string>& out) {
  constexpr double kMeantSquareDeg = 15.0;
  const double a = wrap_turn_degrees(w.warp.degrees()), b = wrap_turn_degrees(w.weft.degrees());
  const bool warp = std::abs(a) <= std::abs(b);
  const double off = warp ? a : b;
  if (std::abs(off) > kMeantSquareDeg || std::abs(off) <= w.angle_u95_deg) return;
  out.push_back(std::string(warp ? "warp" : "weft") +
                text(" runs %.1f +-%.1f deg off the top side", std::abs(off), w.angle_u95_deg) +
                (off > 0 ? ", counter-clockwise" : ", clockwise"));
}

}  // namespace

std::vector<std::string> remarks_of(const WeaveAnalysis& w) {
  std::vector<std::string> remarks;
  if (!w.found) return remarks;
  tell_straightness(w, remarks);
  tell_tow_faults(w, remarks);
  tell_leans(w, w.warp_deg, w.warp, "warp", remarks);
  tell_leans(w, w.weft_deg, w.weft, "weft", remarks);
  if (w.phase) {
    tell_spacing(w, w.phase->warp_count, w.warp_pitch, "warp", remarks);
    tell_spacing(w, w.phase->weft_count, w.weft_pitch, "weft", remarks);
  }
  return remarks;
}

}  // namespace sheetloupe::weave
