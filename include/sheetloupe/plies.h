// The cut edge: where the band is, how many plies it shows, how thick it is along its length.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/markers.h"
#include "sheetloupe/units.h"

namespace sheetloupe {

enum class PlyVerdict { sure, between, cannot_tell, not_measured };
enum class EdgeScaleSource { none, caliper, strip };
enum class LaidVerdict { confirmed, mismatch, mismatch_likely, not_proven, not_checked };

struct EdgeOptions {
  std::optional<double> thickness_mm;  // caliper thickness of the sheet: gives the scale, never the count
  std::optional<int> plies_laid;       // compared afterwards; never steers the reading
  std::vector<Marker> markers;         // of a strip that lies flush with the cut: the scale when there is no thickness
  Measured print{1.0, 0.01};           // paper mm a nominal mm of the strip
  int min_plies = 2;                   // [2, max_plies]
  int max_plies = 40;
  std::string weights;  // text of models/plies.txt; without it nothing is counted
};

/// A place that deserves a look: a dark gap between plies or a void. Never a measurement.
struct EdgeMark {
  std::string kind;                   // "delamination" or "void"
  double from_mm = 0.0, to_mm = 0.0;  // along the edge from the picture's left end (px when no thickness)
  int below_ply = 0;                  // gap under this ply, counted from the top face; 0 when the count is open
  std::array<ImagePoint, 4> box_px;   // photo frame
};

/// What the verdict rests on; for checking, not for people.
struct EdgeEvidence {
  double chance = 0.0;        // of plies_best
  double line_t = 0.0;        // tracked lines against control lines
  double swap = 0.0;          // mean over the plies, [-1, 1]
  double cover = 0.0;         // of the weaker face line
  double outside = 0.0;       // line texture outside the face lines, share of the inside
  double outer_gap = 1.0;     // the outermost ply that differs most, share of the median ply
  double outer_swap = 0.0;    // swapping of the weaker outermost ply
  std::array<int, 2> pair{};  // best count and its better neighbour, the lower first
  double pair_chance = 0.0;
};

struct EdgeReading {
  std::string side;  // "top", "right", "bottom", "left" or "" for a lone photo
  PlyVerdict verdict = PlyVerdict::not_measured;
  std::string reason;                             // why not sure, and what to do; empty when sure
  std::optional<int> plies;                       // only when sure
  std::optional<std::array<int, 2>> plies_range;  // sure: [n, n]; between: two neighbours
  std::optional<int> plies_best;                  // most probable count, from 8 px per ply on
  double px_per_ply = 0.0;
  double band_px = 0.0;      // mean height of the cut, square to the edge
  double band_u95_px = 0.0;  // of that mean
  bool face_visible = false;
  LaidVerdict laid_verdict = LaidVerdict::not_checked;
  std::optional<int> plies_laid;
  EdgeScaleSource scale_source = EdgeScaleSource::none;
  std::optional<double> mm_per_px;
  std::optional<Measured> strip_thickness_mm;  // mean thickness as a flush strip has it, whichever gave the scale
  std::string scale_remark;                    // caliper and strip that disagree, and what that may mean; else empty
  double thickness_mean_mm = 0.0, thickness_min_mm = 0.0, thickness_max_mm = 0.0,
         thickness_u95_mm = 0.0;  // of one profile value; by caliper against its mean. 0 without scale
  double taper_mm = 0.0;          // right end less left end
  std::vector<std::array<double, 2>> thickness_at_mm;  // [along, thickness], from the picture's left end
  std::vector<double> ply_thickness_mm;                // top to bottom, only when sure
  double ply_thickness_u95_mm = 0.0;                   // of each of them, the given thickness taken as true
  std::vector<EdgeMark> marks;
  std::vector<ImagePoint> top_px, bottom_px;     // the face lines of the cut, left to right, photo frame
  std::vector<std::vector<ImagePoint>> line_px;  // tracked lines between plies, photo frame; only when sure
  EdgeEvidence evidence;
};

/// `bgr`: CV_8UC3, photo frame, the front face up, the edge running across the picture. Throws InputError when the
/// weights cannot be read.
EdgeReading read_edge(const cv::Mat& bgr, const EdgeOptions& options = {});

}  // namespace sheetloupe
