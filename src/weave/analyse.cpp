#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <map>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/weave.h"
#include "weave/fine_turn.h"
#include "weave/lattice.h"
#include "weave/normalise.h"
#include "weave/phase.h"
#include "weave/remarks.h"
#include "weave/seed.h"
#include "weave/tow_faults.h"

namespace sheetloupe {
namespace {

using namespace weave;

constexpr float kNan = std::numeric_limits<float>::quiet_NaN();

WeaveAnalysis refused(const std::string& reason) {
  WeaveAnalysis result;
  result.reason = reason;
  return result;
}

struct Identified {
  Lattice lattice;
  cv::Point start;  // middle of the clearest patch, px of the normalised picture
  WeavePattern pattern = WeavePattern::unknown;
  bool fibres_decide = false;  // plain weave and satin, which share a lattice, got votes alike
};

using Votes = std::map<Hypothesis, double>;
using Clearest = std::map<Hypothesis, std::pair<Lattice, cv::Point>>;

constexpr double kLeastVotes = 0.4;

// Nobody against, and twice the votes that a winner needs: over 21 faces by an independent generator and over generated
// cloth no patch looked at later has turned such a start.
bool settled(const Votes& votes) { return votes.size() == 1 && votes.begin()->second >= 2 * kLeastVotes; }

// Patches of one size, `across` x `across` of them, add their votes: each counts by how clearly it prefers its weave.
// They are asked in rounds, one of each row and spread over the columns, until the matter is settled.
void vote_of_size(const Normalised& n, const WeaveOptions& options, double patch_mm, int across, Votes& votes,
                  Clearest& best) {
  constexpr double kLeastScore = 0.75;
  const int size = std::min({cvRound(patch_mm / n.mm_per_px), n.z.cols, n.z.rows});
  const auto place = [&](int k, int length) {
    return std::clamp(cvRound(length * (k + 1.0) / (across + 1)) - size / 2, 0, length - size);
  };
  for (int round = 0; round < across && !settled(votes); ++round) {
    for (int i = 0; i < across; ++i) {
      const int j = (2 * i + i / 2 + round) % across;
      const cv::Rect patch(place(j, n.z.cols), place(i, n.z.rows), size, size);
      if (cv::mean(n.seen(patch))[0] < 0.5) continue;
      const auto lattice = identify(n.z(patch), n.mm_per_px, options);
      if (!lattice || lattice->score < kLeastScore) continue;
      votes[lattice->weave] += lattice->margin;
      auto& [there, at] = best[lattice->weave];
      if (lattice->score > there.score) {
        there = *lattice;
        at = patch.tl() + cv::Point(size / 2, size / 2);
      }
    }
  }
}

// Do two lattices name the same tow directions? Wrong lattices of one cloth lie 18, 27 or 45 degrees off (the square
// lattices of plain weave and satin within each other); bends of the cloth between two patches turn by less than 10.
bool same_axes(const Lattice& a, const Lattice& b) {
  const double turn =
      (std::atan2(a.reciprocal(0, 1), a.reciprocal(0, 0)) - std::atan2(b.reciprocal(0, 1), b.reciprocal(0, 0))) * 180 /
      CV_PI;
  return std::abs(std::remainder(turn, 90.0)) < 10.0;
}

struct Candidates {
  Votes votes;
  Clearest best;
};

bool share_a_lattice(WeavePattern a, WeavePattern b) {
  return a != WeavePattern::twill_2x2 && b != WeavePattern::twill_2x2;
}

// The pattern's winner, by a clear lead; or, without one, its directions where all candidates share them.
std::optional<Identified> decide(Candidates& c) {
  constexpr double kLead = 2.0;
  if (c.votes.empty()) return {};
  const auto winner = std::max_element(c.votes.begin(), c.votes.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
  double other = 0;
  bool axes_agree = true, fibres_decide = false;
  const auto& [lattice, at] = c.best[winner->first];
  for (const auto& [weave, sum] : c.votes) {
    if (pattern_of(weave) == pattern_of(winner->first)) continue;
    if (share_a_lattice(pattern_of(weave), pattern_of(winner->first))) {
      fibres_decide = fibres_decide || kLead * sum > winner->second;
      continue;
    }
    other = std::max(other, sum);
    axes_agree = axes_agree && (kLead * sum < winner->second || same_axes(lattice, c.best[weave].first));
  }
  const bool clear = winner->second >= kLeastVotes && winner->second >= kLead * other;
  if (!clear && !axes_agree) return {};
  return Identified{lattice, at, clear ? pattern_of(winner->first) : WeavePattern::unknown, fibres_decide};
}

// A dragged cloth's peaks smear over a large patch: with drags of 10 degrees on generated satin, patches of 28 tows
// take plain weave for it with a clear lead, those of 15 do not. Below 12 tows the peaks are too wide to tell apart.
std::optional<Identified> vote(const Normalised& n, const WeaveOptions& options) {
  constexpr double kSmallMm = 32.0, kLargeMm = 60.0, kLeastTows = 12.0;
  Candidates small;
  vote_of_size(n, options, kSmallMm, 4, small.votes, small.best);
  auto first = decide(small);
  const auto pitch_of = [](const Lattice& l) { return 1.0 / std::sqrt(std::abs(cv::determinant(l.reciprocal))); };
  if (first && first->pattern != WeavePattern::unknown && kSmallMm / pitch_of(first->lattice) >= kLeastTows)
    return first;
  Candidates large;
  vote_of_size(n, options, kLargeMm, 3, large.votes, large.best);
  auto second = decide(large);
  // Coarse cloth, or one that small patches leave open: both sizes must not contradict each other.
  if (first && second && !same_axes(first->lattice, second->lattice)) {
    if (!share_a_lattice(pattern_of(first->lattice.weave), pattern_of(second->lattice.weave))) return {};
    first->fibres_decide = second->fibres_decide = true;
  }
  return second && second->pattern != WeavePattern::unknown ? second : first ? first : second;
}

// A tow set's axis from the gradient of its count: tows run square to it. 0 along +x, counter-clockwise as seen.
float axis_degrees(cv::Vec2f gradient) {
  return static_cast<float>(wrap_axis_degrees(std::atan2(-gradient[0], -gradient[1]) * 180.0 / CV_PI));
}

double percentile(std::vector<double> values, double share) {
  if (values.empty()) return 0.0;
  const auto index = std::min(values.size() - 1, static_cast<std::size_t>(share * static_cast<double>(values.size())));
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(index), values.end());
  return values[index];
}

std::vector<double> finite(const cv::Mat1f& map) {
  std::vector<double> values;
  for (const float v : map) {
    if (!std::isnan(v)) values.push_back(v);
  }
  return values;
}

// Robust mean axis: median of the turns from a first circular mean over doubled angles.
double mean_axis(const cv::Mat1f& degrees) {
  double c = 0, s = 0;
  for (const double d : finite(degrees)) {
    c += std::cos(2 * d * CV_PI / 180);
    s += std::sin(2 * d * CV_PI / 180);
  }
  const double first = 0.5 * std::atan2(s, c) * 180 / CV_PI;
  std::vector<double> turns;
  for (const double d : finite(degrees)) turns.push_back(wrap_turn_degrees(d - first));
  return wrap_axis_degrees(first + percentile(turns, 0.5));
}

// Warp is the set whose axis is nearer to +x; where both lie 40 to 50 degrees from it, the one between 0 and 90; and
// the user's "warp": "y" turns the names round.
bool first_set_is_warp(double first, double second, bool along_y) {
  const double a = std::abs(wrap_turn_degrees(first)), b = std::abs(wrap_turn_degrees(second));
  bool first_is_warp = a <= b;
  if (std::min(a, b) >= 40 && std::max(a, b) <= 50) first_is_warp = first > 0 && first < 90;
  return first_is_warp != along_y;
}

struct Maps {
  cv::Mat1f axis_s, axis_t, u95;
  double coverage = 0.0;
};

// Gate on the carriers' strength over local noise, not relative to the picture's own median: plain background would
// pass that. Sound cloth in rendered sheets lies above 7 in 199 of 200 places; white noise reaches 3.
constexpr float kQualityGate = 5.0F;

// 95 % half width of a direction read at one place, from three parts: what all carriers share (fibre texture, the
// window's own bias), their disagreement turned into an angle, and the half-empty window beside the border of what was
// measured. The figures are fitted on 36 generated sheets (all weaves, drags to 12 degrees, two fibre shadings), over
// which they hold for 98 % of places, 88 % on the worst; on 19 pictures by an independent generator for 98 %, 92 % on
// the worst.
void fill_u95(const PhaseField& field, double node_mm, Maps& maps) {
  constexpr double kSharedDeg = 0.15, kPerScatter = 1.1, kBorderDeg = 0.5, kBorderMm = 4.0;
  cv::Mat1b measured(maps.axis_s.rows + 2, maps.axis_s.cols + 2, static_cast<unsigned char>(0));
  for (int r = 0; r < maps.axis_s.rows; ++r) {
    for (int c = 0; c < maps.axis_s.cols; ++c) {
      measured(r + 1, c + 1) = std::isnan(maps.axis_s(r, c)) ? 0 : 255;
    }
  }
  cv::Mat1f inward;
  cv::distanceTransform(measured, inward, cv::DIST_L2, cv::DIST_MASK_5);
  for (int r = 0; r < maps.u95.rows; ++r) {
    for (int c = 0; c < maps.u95.cols; ++c) {
      if (std::isnan(maps.axis_s(r, c))) continue;
      const double scatter = std::atan(field.scatter(r, c)) * 180 / CV_PI;
      const double border = kBorderDeg * std::exp(-(inward(r + 1, c + 1) - 0.5) * node_mm / kBorderMm);
      maps.u95(r, c) = static_cast<float>(std::hypot(kSharedDeg, kPerScatter * scatter, border));
    }
  }
}

Maps maps_of(const PhaseField& field) {
  Maps maps;
  const cv::Size grid = field.s.size();
  maps.axis_s = cv::Mat1f(grid, kNan);
  maps.axis_t = cv::Mat1f(grid, kNan);
  maps.u95 = cv::Mat1f(grid, kNan);
  double cloth = 0, measured = 0;
  for (int r = 0; r < grid.height; ++r) {
    for (int c = 0; c < grid.width; ++c) {
      if (field.seen(r, c) < 0.5F) continue;
      cloth += 1;
      if (field.quality(r, c) < kQualityGate) continue;
      measured += 1;
      maps.axis_s(r, c) = axis_degrees(field.grad_s(r, c));
      maps.axis_t(r, c) = axis_degrees(field.grad_t(r, c));
    }
  }
  fill_u95(field, field.step_mm, maps);
  maps.coverage = cloth > 0 ? measured / cloth : 0.0;
  return maps;
}

void fill_statistics(WeaveAnalysis& w) {
  const cv::Mat1f warp = w.warp_deg, weft = w.weft_deg;
  std::vector<double> shear, shear_abs, warp_turn, weft_turn;
  for (int r = 0; r < warp.rows; ++r) {
    for (int c = 0; c < warp.cols; ++c) {
      if (std::isnan(warp(r, c))) continue;
      shear.push_back(wrap_turn_degrees(weft(r, c) - warp(r, c) - 90.0));
      shear_abs.push_back(std::abs(shear.back()));
      warp_turn.push_back(std::abs(wrap_turn_degrees(warp(r, c) - w.warp.degrees())));
      weft_turn.push_back(std::abs(wrap_turn_degrees(weft(r, c) - w.weft.degrees())));
    }
  }
  double sum = 0;
  for (const double s : shear) sum += s;
  w.shear_mean_deg = shear.empty() ? 0.0 : sum / static_cast<double>(shear.size());
  w.shear_p95_abs_deg = percentile(shear_abs, 0.95);
  w.shear_max_abs_deg = percentile(shear_abs, 1.0);
  w.warp_deviation_p95_deg = percentile(warp_turn, 0.95);
  w.weft_deviation_p95_deg = percentile(weft_turn, 0.95);
  w.deviation_max_deg = std::max(percentile(warp_turn, 1.0), percentile(weft_turn, 1.0));
}

double pitch_of(const cv::Mat2f& gradient, const cv::Mat1f& where) {
  std::vector<double> pitch;
  for (int r = 0; r < where.rows; ++r) {
    for (int c = 0; c < where.cols; ++c) {
      if (!std::isnan(where(r, c)))
        pitch.push_back(1.0 / std::max(1e-6, static_cast<double>(cv::norm(gradient(r, c)))));
    }
  }
  return percentile(pitch, 0.5);
}

// 95 % half width of a mean direction. The frame's own turn: the outline's top side is off by up to 0.3 mm at its ends
// (95 % of 53 generated photos: 0.29 mm). And what the directions share over the whole face. On those 53 photos, of 26
// sheets of all weaves with drags to 10 degrees through cameras with tilts to 20 degrees, the mean directions lie
// within the figure in 95 of 100 cases; on 31 photos by an independent generator in 98 of 100. Six photos of one sheet
// scatter by 0.02 and 0.03 degrees (standard deviation), well inside.
constexpr double kSharedPart = 0.3;
double mean_u95(const RectifiedSheet& sheet, double local_u95_deg) {
  constexpr double kFrameMm = 0.3;
  const double width_mm = std::max(1.0, cv::boundingRect(sheet.cloth).width * sheet.mm_per_px);
  return std::hypot(kFrameMm / width_mm * 180 / CV_PI, kSharedPart * local_u95_deg);
}

// 95 % half width of a median spacing, relative. A count's gradient is off along itself by as much as across, so what
// the directions share is shared by the spacings; and every length has the scale's error. On 36 generated photos of all
// weaves with up to three drags the reading's own part holds for 97 % of the 72 spacings, with the scale's for all.
double spacing_u95(const RectifiedSheet& sheet, double local_u95_deg) {
  return std::hypot(sheet.length_u95, kSharedPart * local_u95_deg * CV_PI / 180);
}

// The p95 over the face is as good as one reading: within local_u95_deg for 97 % of 36 generated photos (shear) and all
// of 72 (turns). The worst shear is a difference of two readings.
void fill_worst_u95(WeaveAnalysis& w) {
  w.deviation_max_u95_deg = kWorstOfMany * w.local_u95_deg;
  w.shear_max_u95_deg = std::sqrt(2.0) * w.deviation_max_u95_deg;
}

// Tow edges and fibres must run along the tows. Where they do not, the weave that shares the lattice is taken instead.
bool agrees_with_fibres(const Normalised& n, const WeaveOptions& options, Identified& identified, SeedField& seed,
                        PhaseField& field) {
  const FineTurn fine = fine_turn(n, field);
  if (!contradicts(fine)) return !identified.fibres_decide || tells(fine);
  const auto other = sibling(identified.lattice, fine.turn_deg);
  if (!other || !plausible(other->reciprocal, options)) return false;
  identified.lattice = *other;
  if (identified.pattern != WeavePattern::unknown) identified.pattern = pattern_of(other->weave);
  seed = track(n, identified.lattice, identified.start);
  field = refine_phase(n, seed, identified.lattice.weave, options.grid_mm);
  return !contradicts(fine_turn(n, field));
}

}  // namespace

WeaveAnalysis analyse_weave(const RectifiedSheet& sheet, const WeaveOptions& options) {
  constexpr double kWorkMm = 0.25;  // 6 to 11 px a tow for the usual cloths
  if (sheet.bgr.empty() || cv::countNonZero(sheet.cloth) * sheet.mm_per_px * sheet.mm_per_px < 400) {
    return refused("Too little cloth is visible to read the weave: at least 4 cm2 are needed.");
  }
  const Normalised n = normalise(sheet, kWorkMm);
  auto identified = vote(n, options);
  if (!identified) {
    return refused(
        "No weave was recognised for sure. Go closer, focus on the sheet, and move the lamp so that the tows show.");
  }
  const Reciprocal& b = identified->lattice.reciprocal;
  const double tow_px = 1.0 / std::sqrt(std::abs(cv::determinant(b))) / sheet.photo_mm_per_px;
  if (tow_px < 4.0)
    return refused("The tows are only " + std::to_string(tow_px).substr(0, 3) +
                   " px wide in the photo; 4 are needed. Go closer.");
  SeedField seed = track(n, identified->lattice, identified->start);
  if (cv::countNonZero(seed.weight > 0) < 0.3 * static_cast<double>(seed.weight.total()) * cv::mean(n.seen)[0]) {
    return refused("The weave was lost over most of the face. Photograph it sharper and with less glare.");
  }
  if (!(tow_px < 1e4) || n.z.cols < 4 * tow_px * sheet.photo_mm_per_px / n.mm_per_px ||
      n.z.rows < 4 * tow_px * sheet.photo_mm_per_px / n.mm_per_px) {
    return refused("The face is too narrow to read the weave: fewer than four tows across.");
  }
  PhaseField field = refine_phase(n, seed, identified->lattice.weave, options.grid_mm);
  if (!agrees_with_fibres(n, options, *identified, seed, field)) {
    return refused(
        "The weave reads two ways: its fibres run off the tows that its pattern suggests. Photograph it sharper.");
  }
  const Maps maps = maps_of(field);
  if (maps.coverage < 0.3)
    return refused("The weave is too faint over most of the face. Move the lamp so that the tows show.");
  WeaveAnalysis w;
  w.found = true;
  w.pattern = identified->pattern;
  const double first = mean_axis(maps.axis_s), second = mean_axis(maps.axis_t);
  const bool s_is_warp = first_set_is_warp(first, second, options.warp_along_y);
  w.warp_deg = s_is_warp ? maps.axis_s : maps.axis_t;
  w.weft_deg = s_is_warp ? maps.axis_t : maps.axis_s;
  w.u95_deg = maps.u95;
  w.warp = Axis::from_degrees(s_is_warp ? first : second);
  w.weft = Axis::from_degrees(s_is_warp ? second : first);
  w.local_u95_deg = percentile(finite(maps.u95), 0.5);
  w.angle_u95_deg = mean_u95(sheet, w.local_u95_deg);
  const double pitch_s = pitch_of(field.grad_s, maps.axis_s), pitch_t = pitch_of(field.grad_t, maps.axis_t);
  w.warp_pitch = Mm(s_is_warp ? pitch_s : pitch_t);
  w.weft_pitch = Mm(s_is_warp ? pitch_t : pitch_s);
  w.warp_pitch_u95 = w.warp_pitch * spacing_u95(sheet, w.local_u95_deg);
  w.weft_pitch_u95 = w.weft_pitch * spacing_u95(sheet, w.local_u95_deg);
  w.coverage = maps.coverage;
  w.map_mm_per_px = field.step_mm;
  w.map_origin = n.origin;
  fill_statistics(w);
  fill_worst_u95(w);
  WeavePhase phase;
  phase.warp_count = s_is_warp ? field.s : field.t;
  phase.weft_count = s_is_warp ? field.t : field.s;
  phase.step_mm = w.map_mm_per_px;
  phase.origin = n.origin;
  const Hypothesis weave = identified->lattice.weave;
  const int t_factor = weave == Hypothesis::satin_5 ? 3 : weave == Hypothesis::satin_5_mirrored ? 2 : 1;
  phase.repeat = weave == Hypothesis::plain ? 2 : weave == Hypothesis::twill_2x2 ? 4 : 5;
  phase.warp_factor = s_is_warp ? 1 : t_factor;
  phase.weft_factor = s_is_warp ? t_factor : 1;
  w.phase = phase;
  if (w.pattern != WeavePattern::unknown) w.tow_faults = find_tow_faults(n, phase, w.warp_deg);
  w.remarks = remarks_of(w);
  return w;
}

}  // namespace sheetloupe
