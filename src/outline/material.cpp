#include "outline/material.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "sheetloupe/median.h"

namespace sheetloupe::outline {
namespace {

// Mean step along the path moved outward by some rows; columns where paper lies are left out.
cv::Vec3d mean_step(const Band& band, const Path& path, int moved, int* columns) {
  constexpr StepReach kReach;
  constexpr int kGap = kReach.gap, kWindow = kReach.window;
  cv::Vec3d sum;
  int n = 0;
  for (int c = 0; c < kColumns; ++c) {
    const int row = path.rows[c] + moved;
    const int first = row - kGap - kWindow, last = row + kGap + kWindow;
    if (first < 0 || last >= band.colours.rows) continue;
    bool paper = false;
    for (int r = first; r <= last; ++r) paper = paper || band.paper.at<unsigned char>(r, c) != 0;
    if (paper) continue;
    cv::Vec3d step;
    for (int k = kGap; k < kGap + kWindow; ++k) {
      step += cv::Vec3d(band.colours(row + k, c)) - cv::Vec3d(band.colours(row - k, c));
    }
    sum += step * (1.0 / kWindow);
    ++n;
  }
  *columns = n;
  return n > 0 ? sum * (1.0 / n) : cv::Vec3d();
}

}  // namespace

cv::Vec3d mean_colour(const Band& band, const Path& path, int from, int to) {
  cv::Vec3d sum;
  int n = 0;
  for (int c = 0; c < kColumns; ++c) {
    for (int r = std::max(0, path.rows[c] + from); r <= std::min(path.rows[c] + to, band.colours.rows - 1); ++r) {
      if (band.paper.at<unsigned char>(r, c)) continue;
      sum += cv::Vec3d(band.colours(r, c));
      ++n;
    }
  }
  return n > 0 ? sum * (1.0 / n) : cv::Vec3d();
}

cv::Mat1f material_edges(const Band& band, const StepReach& reach, double certain, const cv::Range& rows) {
  const int gap = reach.gap, window = reach.window;
  cv::Mat kernel = cv::Mat::zeros(2 * (gap + window) - 1, 1, CV_32F);
  const int middle = kernel.rows / 2;
  for (int k = gap; k < gap + window; ++k) {
    kernel.at<float>(middle + k) = 1.0F / window;
    kernel.at<float>(middle - k) = -1.0F / window;
  }
  cv::Mat3f steps;
  cv::filter2D(band.colours, steps, CV_32F, kernel, {-1, -1}, 0, cv::BORDER_REPLICATE);
  // What the table alone shows, in its outermost three millimetres.
  std::array<double, 3> usual{};
  for (int k = 0; k < 3; ++k) {
    std::vector<float> values;
    for (int r = steps.rows - static_cast<int>(3.0 / band.step); r < steps.rows - gap - window; ++r) {
      for (int c = 0; c < steps.cols; c += 3) {
        if (band.paper.at<unsigned char>(r, c) == 0) values.push_back(std::abs(steps(r, c)[k]));
      }
    }
    constexpr std::array<double, 3> kLeast = {0.02, 0.006, 0.006};  // sensor noise in the mean of some pixels
    usual[k] = std::max(kLeast[k], 1.4826 * median(values));
  }
  cv::Mat1f edges(steps.size(), 0.0F);
  for (int r = std::max(0, rows.start); r < std::min(rows.end, steps.rows); ++r) {
    for (int c = 0; c < steps.cols; ++c) {
      const cv::Vec3f& s = steps(r, c);
      // Brightness counts half: shadows end within a millimetre as well.
      const double light = 0.5 * s[0] / usual[0], red = s[1] / usual[1], blue = s[2] / usual[2];
      edges(r, c) = static_cast<float>(std::min(1.0, std::sqrt(light * light + red * red + blue * blue) / certain));
    }
  }
  cv::Mat near_paper;
  cv::dilate(band.paper, near_paper, cv::Mat::ones(2 * (gap + window) + 1, 5, CV_8U));
  edges.setTo(0, near_paper);
  return edges;
}

// Whether another material than the table lies inside the path. On rendered sheets the colour jumps by 0.017 to 0.10 at
// a resin's outer end; at a shadow's end by up to 0.054, but away from the cloth's colour, and by at most 0.013 aside.
// In deep shadow a trimmed side may pass for a ragged one, so there the direction counts as well: of 35 resin ends
// beyond ragged weave none turned by less than 0.018 aside.
bool is_material_end(const Jump& jump, bool ragged) {
  constexpr double kColour = 0.016, kLight = 0.1, kLightRatio = 8.0, kOtherColour = 0.02, kOtherRatio = 2.5;
  if (jump.table_seen && jump.other_colour > kOtherColour && jump.other_colour > kOtherRatio * jump.table_colour)
    return true;
  if (!ragged) return false;
  return (jump.other_colour > kColour && jump.other_colour > jump.table_colour) ||
         (jump.light > kLight && jump.light > kLightRatio * jump.table_light);
}

Jump jump_across(const Band& band, const Path& path, const Path& cloth, int clear) {
  Jump jump;
  int columns = 0;
  const cv::Vec3d own = mean_step(band, path, 0, &columns);
  jump.light = std::abs(own[0]);
  jump.colour = std::hypot(own[1], own[2]);
  // Shadow on a table is lit by the table itself and so turns a little more of its colour, away from the neutral cloth;
  // resin turns elsewhere.
  const cv::Vec3d to_cloth = mean_colour(band, cloth, -20, -8) - mean_colour(band, path, 12, 25);
  const double away = own[1] * to_cloth[1] + own[2] * to_cloth[2];
  const double aside = std::abs(own[1] * to_cloth[2] - own[2] * to_cloth[1]);
  jump.other_colour = away < 0 ? jump.colour : aside / std::max(std::hypot(to_cloth[1], to_cloth[2]), 1e-6);
  for (int moved = clear; moved <= clear + 30; moved += 3) {
    const cv::Vec3d copy = mean_step(band, path, moved, &columns);
    if (columns < kColumns / 4) continue;
    jump.table_seen = true;
    jump.table_light = std::max(jump.table_light, std::abs(copy[0]));
    jump.table_colour = std::max(jump.table_colour, std::hypot(copy[1], copy[2]));
  }
  return jump;
}

}  // namespace sheetloupe::outline
