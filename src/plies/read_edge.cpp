#include <algorithm>
#include <cmath>
#include <numeric>
#include <opencv2/imgproc.hpp>

#include "plies/flush_strip.h"
#include "plies/model.h"
#include "plies/profile.h"
#include "plies/verdict.h"
#include "plies/visible_face.h"
#include "sheetloupe/plies.h"

namespace sheetloupe {
namespace {

using namespace plies;

// Line texture just outside the face lines, as a share of the inside's: plain ground shows none, a missed ply does.
// Second differences over a tenth of a ply; shadows have none.
double outside_texture(const GreyRows& photo, const Band& cut, int plies) {
  constexpr int kPlyRows = 20, kWindows = 12;
  const int rows = kPlyRows * plies;
  const double margin = 1.3 / plies;
  const cv::Mat1f straight = straighten(photo, cut, rows, margin, 960);
  cv::Mat1f windows, light;
  cv::resize(straight, windows, {kWindows, straight.rows}, 0, 0, cv::INTER_AREA);
  cv::GaussianBlur(windows, light, {1, 9}, 1.0, 1.5);
  const int extra = (straight.rows - rows) / 2, d = 2;
  const auto energy = [&](int from, int to) {
    double sum = 0;
    for (int r = from; r < to; ++r) {
      for (int c = 0; c < kWindows; ++c) sum += std::pow(2 * light(r, c) - light(r - d, c) - light(r + d, c), 2);
    }
    return std::sqrt(sum / std::max(1, (to - from) * kWindows));
  };
  // A quarter of a ply beside the line belongs to the border's own blur.
  const int gap = kPlyRows / 4 + 1;
  const double inside = energy(extra + gap, extra + rows - gap);
  return std::max(energy(d, extra - gap), energy(extra + rows + gap, straight.rows - d)) / std::max(1e-6, inside);
}

void fill_evidence(EdgeReading& reading, const Band& cut, const std::vector<Candidate>& all,
                   const std::vector<double>& chance, std::size_t best) {
  EdgeEvidence& e = reading.evidence;
  const Candidate& c = all[best];
  e.chance = chance[best];
  e.line_t = c.lines.t;
  std::vector<double> gaps;
  for (std::size_t k = 0; k + 1 < c.lines.rows.size(); ++k) gaps.push_back(c.lines.rows[k + 1] - c.lines.rows[k]);
  for (const Swap& s : c.swaps) e.swap += s.both / static_cast<double>(c.swaps.size());
  e.outer_swap = std::min(c.swaps.front().both, c.swaps.back().both);
  std::vector<double> sorted = gaps;
  std::sort(sorted.begin(), sorted.end());
  const double middle = sorted[sorted.size() / 2];
  const double first = gaps.front() / middle, last = gaps.back() / middle;
  e.outer_gap = std::abs(std::log(first)) > std::abs(std::log(last)) ? first : last;
  e.cover = std::min(cut.top.cover, cut.bottom.cover);
  const double below = best > 0 ? chance[best - 1] : 0.0, above = best + 1 < all.size() ? chance[best + 1] : 0.0;
  const int n = c.lines.n;
  e.pair = below > above ? std::array<int, 2>{n - 1, n} : std::array<int, 2>{n, n + 1};
  e.pair_chance = e.chance + std::max(below, above);
}

// One band, counted.
struct Counted {
  Band cut;
  bool top_face = false, bottom_face = false;
  cv::Mat1f straight;
  int evidence_rows = 0;
  std::vector<Candidate> all;
  std::vector<double> chance;
  std::size_t best = 0;
};

Counted count_plies(const cv::Mat1f& straight, const Band& cut, const EdgeOptions& options,
                    const std::vector<double>& weights) {
  Counted c;
  c.cut = cut;
  c.straight = straight;
  Evidence evidence(c.straight);
  c.evidence_rows = evidence.rows();
  // A ply of under 4.5 px cannot be seen, so counts that would need one are not tried.
  const int most = std::min(options.max_plies, static_cast<int>(cut.height_px / 4.5));
  c.all = read_candidates(evidence, options.min_plies, most);
  c.chance = chances(c.all, weights);
  c.best = static_cast<std::size_t>(std::max_element(c.chance.begin(), c.chance.end()) - c.chance.begin());
  return c;
}

// Where a strip may or may not be a face, both readings are made and the one whose plies fit better is kept: a ply
// taken for a face, or a face taken for a ply, breaks the rhythm of all others.
constexpr double kMayBeFace = 0.1, kIsFace = 0.7;

// `straight`: the whole band with its margins.
Counted count_best_band(const GreyRows& photo, const Band& band, const cv::Mat1f& straight, const EdgeOptions& options,
                        const std::vector<double>& weights) {
  const int rows = shown_rows(band), margin = (straight.rows - rows) / 2;
  const PlainStrips strips = find_plain_strips(straight, rows, band);
  const auto choices = [](double chance) {
    if (chance > kIsFace) return std::vector<bool>{true};
    return chance > kMayBeFace ? std::vector<bool>{false, true} : std::vector<bool>{false};
  };
  Counted best;
  double merit = -1e18;
  for (const bool top : choices(strips.top.chance)) {
    for (const bool bottom : choices(strips.bottom.chance)) {
      const Band cut = cut_off(band, strips, top, bottom);
      if (cut.height_px < 8 || cut.height_px < 0.3 * band.height_px) continue;
      const cv::Mat1f shown = top || bottom ? straighten(photo, cut, shown_rows(cut), 0, shown_columns(cut))
                                            : cv::Mat1f(straight.rowRange(margin, margin + rows)).clone();
      Counted counted = count_plies(shown, cut, options, weights);
      const double here = counted.all.empty() ? -1e9 : counted.all[counted.best].lines.merit;
      if (here <= merit) continue;
      merit = here;
      best = std::move(counted);
      best.top_face = top;
      best.bottom_face = bottom;
    }
  }
  return best;
}

// `bgr`: photo, or the part of it that a strip leaves free.
EdgeReading read_part(const cv::Mat& bgr, const EdgeOptions& options, const std::optional<FlushStrip>& strip) {
  EdgeReading reading;
  reading.plies_laid = options.plies_laid;
  const std::vector<double> weights = parse_weights(options.weights);
  const Band band = bgr.cols >= 64 && bgr.rows >= 64 ? find_band(bgr) : Band{};
  if (!band.found) {
    reading.reason = band.reason.empty() ? "The photo is too small." : band.reason;
    return reading;
  }
  reading.verdict = PlyVerdict::cannot_tell;
  const GreyRows photo = grey_rows(bgr, band);
  const cv::Mat1f straight = straighten(photo, band, shown_rows(band), kFaceMargin, shown_columns(band));
  const Counted counted = count_best_band(photo, band, straight, options, weights);
  reading.face_visible = counted.top_face || counted.bottom_face;
  fill_profile(reading, counted.all.empty() ? band : counted.cut, options.thickness_mm, strip);
  if (counted.all.empty() || weights.empty()) {
    reading.reason = weights.empty()
                         ? "The weights of the ply count (models/plies.txt) are missing: nothing is counted."
                         : "The edge is too small in the photo. Go closer until it fills half of the "
                           "picture's height.";
    return reading;
  }
  const int n = counted.all[counted.best].lines.n;
  reading.px_per_ply = counted.cut.height_px / n;
  fill_evidence(reading, counted.cut, counted.all, counted.chance, counted.best);
  reading.evidence.outside = outside_texture(photo, counted.cut, n);
  judge(reading, n);
  if (reading.plies) fill_plies(reading, counted.cut, counted.all[counted.best].lines, counted.evidence_rows);
  fill_marks(reading, counted.cut, counted.straight, static_cast<double>(counted.straight.rows) / n);
  reading.laid_verdict = compare_laid(reading);
  return reading;
}

void move_to_photo(EdgeReading& reading, cv::Point start) {
  const auto move = [&](ImagePoint& p) { p = {p.x + start.x, p.y + start.y}; };
  std::for_each(reading.top_px.begin(), reading.top_px.end(), move);
  std::for_each(reading.bottom_px.begin(), reading.bottom_px.end(), move);
  for (auto& line : reading.line_px) std::for_each(line.begin(), line.end(), move);
  for (EdgeMark& mark : reading.marks) std::for_each(mark.box_px.begin(), mark.box_px.end(), move);
}

}  // namespace

EdgeReading read_edge(const cv::Mat& bgr, const EdgeOptions& options) {
  const auto strip = find_flush_strip(options.markers, options.print, bgr.size());
  if (!strip) return read_part(bgr, options, {});
  const cv::Rect part = strip->free_part(bgr.size());
  EdgeReading reading = read_part(bgr(part), options, strip->seen_from(part.tl()));
  move_to_photo(reading, part.tl());
  return reading;
}

}  // namespace sheetloupe
