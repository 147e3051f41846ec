#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <numeric>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/photo.h"

namespace sheetloupe {
namespace {

struct Steepest {
  double slope = 0.0;  // grey levels a px
  cv::Point at;
};

// By central differences; across the picture's border there is no slope.
Steepest steepest_in(const cv::Mat& grey, const cv::Rect& tile) {
  std::vector<int> squared(static_cast<std::size_t>(tile.width));
  int most = -1;
  cv::Point at;
  for (int r = tile.y; r < tile.y + tile.height; ++r) {
    const bool inside = r > 0 && r + 1 < grey.rows;
    const unsigned char *here = grey.ptr(r) + tile.x, *above = grey.ptr(inside ? r - 1 : r) + tile.x,
                        *below = grey.ptr(inside ? r + 1 : r) + tile.x;
    const int first = tile.x > 0 ? 0 : 1, end = tile.x + tile.width < grey.cols ? tile.width : tile.width - 1;
    for (int c = 0; c < tile.width; ++c) squared[c] = (below[c] - above[c]) * (below[c] - above[c]);
    for (int c = first; c < end; ++c) squared[c] += (here[c + 1] - here[c - 1]) * (here[c + 1] - here[c - 1]);
    int largest = 0;
    for (int c = 0; c < tile.width; ++c) largest = std::max(largest, squared[c]);
    if (largest <= most) continue;
    most = largest;
    at = {tile.x + static_cast<int>(std::find(squared.begin(), squared.end(), largest) - squared.begin()), r};
  }
  return {0.5 * std::sqrt(static_cast<float>(most)), at};
}

// Blur of the sharpest edges as a Gaussian's sigma. A step of height A blurred by sigma has slope A / (sigma sqrt(2
// pi)); the derivative kernel blurs by itself, which is taken off again. Read where the slope is steepest in each tile,
// with the step's height from the tile's own range within a few pixels; the sharpest tenth of the tiles counts, since a
// weave's soft edges say nothing about the lens.
// `grey`, `face`: the part of the photo from `start` on. `area`: the face's px.
double blur_sigma_px(const cv::Mat& grey, const cv::Mat& face, cv::Point start, double area) {
  constexpr int kTile = 48, kReach = 5, kMostTiles = 600;
  // Of a large face every second or third tile each way is as good as all.
  const int step = kTile * std::max(1, static_cast<int>(std::sqrt(area / (kTile * kTile) / kMostTiles)));
  const auto on_face = [&](const cv::Rect& tile) {
    for (int r = tile.y; r < tile.y + tile.height; ++r) {
      if (std::memchr(face.ptr(r) + tile.x, 0, kTile)) return false;
    }
    return true;
  };
  std::vector<double> sigmas;
  // Tiles lie on one raster over the whole photo.
  for (int r = (step - start.y % step) % step; r + kTile <= grey.rows; r += step) {
    for (int c = (step - start.x % step) % step; c + kTile <= grey.cols; c += step) {
      const cv::Rect tile(c, r, kTile, kTile);
      if (!on_face(tile)) continue;
      const auto [steepest, at] = steepest_in(grey, tile);
      const cv::Rect around =
          cv::Rect(at.x - kReach, at.y - kReach, 2 * kReach + 1, 2 * kReach + 1) & cv::Rect(0, 0, grey.cols, grey.rows);
      double least = 0, most = 0;
      cv::minMaxLoc(grey(around), &least, &most);
      if (most - least < 25) continue;  // no edge worth reading: noise would set the range
      const double sigma = (most - least) / (steepest * std::sqrt(2 * CV_PI));
      // The central difference is a box of two pixels: variance 1/3.
      sigmas.push_back(std::sqrt(std::max(0.09, sigma * sigma - 1.0 / 3.0)));
    }
  }
  if (sigmas.size() < 10) return 0.0;
  const auto tenth = sigmas.begin() + static_cast<std::ptrdiff_t>(sigmas.size() / 10);
  std::nth_element(sigmas.begin(), tenth, sigmas.end());
  return *tenth;
}

std::array<int, 256> counts_of_levels(const cv::Mat& grey, const cv::Mat& mask) {
  std::array<int, 256> counts{};
  for (int r = 0; r < grey.rows; ++r) {
    const unsigned char *level = grey.ptr(r), *where = mask.ptr(r);
    for (int c = 0; c < grey.cols; ++c) counts[level[c]] += where[c] ? 1 : 0;
  }
  return counts;
}

std::string percent(double share) { return std::to_string(std::max(1L, std::lround(100 * share))) + " %"; }

}  // namespace

PhotoCheck check_photo(const Photo& photo, const cv::Mat& face, double mm_per_px, const PhotoCheckOptions& options) {
  PhotoCheck check;
  check.mm_per_px = mm_per_px;
  // Only the face and a rim for the windows that reach over its border are looked at.
  constexpr int kRimPx = 8;
  const cv::Rect box = cv::boundingRect(face);
  if (box.empty()) return check;
  const cv::Rect part =
      cv::Rect(box.tl() - cv::Point(kRimPx, kRimPx), box.br() + cv::Point(kRimPx, kRimPx)) & cv::Rect({}, face.size());
  cv::Mat grey;
  cv::cvtColor(photo.bgr(part), grey, cv::COLOR_BGR2GRAY);
  const std::array<int, 256> seen = counts_of_levels(grey, face(part));
  const int blown_level = cvRound(0.114 * options.blown[0] + 0.587 * options.blown[1] + 0.299 * options.blown[2]);
  int blown = 0, crushed = 0;
  for (int level = 0; level < 256; ++level) {
    if (level >= blown_level) blown += seen[level];
    if (level <= options.crushed_level) crushed += seen[level];
  }
  const double area = std::accumulate(seen.begin(), seen.end(), 0.0);
  check.blown_fraction = blown / area;
  check.crushed_fraction = crushed / area;
  check.blur_sigma_px = blur_sigma_px(grey, face(part), part.tl(), area);
  // Under half a per cent of clipped pixels at either end is usual (from memory); advice starts at 2 %.
  constexpr double kClipped = 0.02, kBlurredPx = 2.5, kCoarseMm = 0.14;
  if (check.blown_fraction > kClipped) {
    check.advice.push_back("Move the lamp to the side: " + percent(check.blown_fraction) + " of the face is glare.");
  }
  if (check.crushed_fraction > kClipped) {
    check.advice.push_back("Give more light: " + percent(check.crushed_fraction) +
                           " of the face is black in the photo.");
  }
  if (check.blur_sigma_px > kBlurredPx) {
    check.advice.push_back(
        "The photo is not sharp on the face. Rest the phone on something and tap the sheet to focus.");
  }
  // 0.14 mm a pixel shows a 0.5 mm pinhole in 3.5 px, the least that can be told from dust.
  if (mm_per_px > kCoarseMm) {
    check.advice.push_back("Go closer, with all four strips still whole: at " +
                           std::to_string(std::lround(mm_per_px * 100) / 100.0).substr(0, 4) +
                           " mm a pixel small pinholes cannot be seen.");
  }
  return check;
}

}  // namespace sheetloupe
