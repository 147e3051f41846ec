// The cut edge: where the band is, how many plies it shows, how thick it is along its length.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

enum class PlyVerdict { sure, between, cannot_tell, not_measured };
enum class LaidVerdict { confirmed, mismatch, mismatch_likely, not_proven, not_checked };

struct EdgeOptions {
  std::optional<double> thickness_mm;  // caliper thickness of the sheet: gives the scale
  std::optional<int> plies_laid;       // compared afterwards; never steers the reading
  int min_plies = 2;
  int max_plies = 40;
};

/// A place that deserves a look: dark gap between plies or a void.
struct EdgeMark {
  std::string kind;                   // "delamination" or "void"
  double from_mm = 0.0, to_mm = 0.0;  // along the edge from the picture's left end (px when no thickness)
  int below_ply = 0;                  // gap under this ply, counted from the top face; 0 when the count is open
  std::array<ImagePoint, 4> box_px;   // photo frame
};

struct EdgeReading {
  std::string side;  // "top", "right", "bottom", "left" or "" for a lone photo
  PlyVerdict verdict = PlyVerdict::not_measured;
  std::string reason;                             // why not sure, and what to do; empty when sure
  std::optional<int> plies;                       // only when sure
  std::optional<std::array<int, 2>> plies_range;  // sure: [n, n]; between: two neighbours
  std::optional<int> plies_best;                  // most probable count, from 8 px per ply on
  double px_per_ply = 0.0;
  double band_px = 0.0;  // mean height of the band
  double band_u95_px = 0.0;
  bool face_visible = false;
  LaidVerdict laid_verdict = LaidVerdict::not_checked;
  std::optional<int> plies_laid;
  std::optional<double> mm_per_px;
  double thickness_mean_mm = 0.0, thickness_min_mm = 0.0, thickness_max_mm = 0.0,
         thickness_u95_mm = 0.0;                       // 0 without scale
  std::vector<std::array<double, 2>> thickness_at_mm;  // [along, thickness], from the picture's left end
  std::vector<double> ply_thickness_mm;                // top to bottom, only when sure
  std::vector<EdgeMark> marks;
  std::vector<ImagePoint> top_px, bottom_px;     // the face lines, left to right, photo frame
  std::vector<std::vector<ImagePoint>> line_px;  // tracked lines between plies, photo frame
};

EdgeReading read_edge(const cv::Mat& bgr, const EdgeOptions& options = {});

/// The photo (CV_8UC3, a copy) with band, ply ruler and marks drawn on it.
cv::Mat draw_edge(const cv::Mat& bgr, const EdgeReading& reading);

}  // namespace sheetloupe
