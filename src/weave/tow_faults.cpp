#include "weave/tow_faults.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sheetloupe/median.h"
#include "weave/crossings.h"

namespace sheetloupe::weave {
namespace {

// Which place of the repeat a crossing has.
struct Repeat {
  int length, by_row, by_col;
  // Crossings along a tow that are judged together: four repeats, so that no single odd crossing decides.
  int run() const { return 4 * std::max(4, length); }
  int place(const Crossings& x, int r, int c) const {
    const int k = by_row * (x.first_row() + r) + by_col * (x.first_col() + c);
    return ((k % length) + length) % length;
  }
};

// Mean looks of all places of the repeat over a window of crossings; none when a place is not seen there.
struct Looks {
  std::array<Look, 5> mean{};  // of each place, less the mean of all places
  Look all{};                  // that mean
};

constexpr int kStep = 4;  // crossings from one window to the next

int windows(const Crossings& x, int run) { return std::max(0, (x.cols() - run) / kStep + 1); }

// Sums of looks by place of the repeat over each window of each tow: larger windows are sums of these.
struct Strip {
  std::array<Look, 5> sum{};
  std::array<int, 5> count{};
};

class Strips {
 public:
  Strips(const Crossings& x, const Repeat& repeat) : rows_(x.rows()), across_(windows(x, repeat.run())) {
    strips_.resize(static_cast<std::size_t>(rows_) * across_);
    for (int r = 0; r < rows_; ++r) {
      for (int w = 0; w < across_; ++w) {
        Strip& strip = strips_[static_cast<std::size_t>(r) * across_ + w];
        for (int c = w * kStep; c < w * kStep + repeat.run(); ++c) {
          if (!x.known(r, c)) continue;
          const int k = repeat.place(x, r, c);
          strip.sum[k] += x.look(r, c);
          ++strip.count[k];
        }
      }
    }
  }
  int rows() const { return rows_; }
  int across() const { return across_; }
  const Strip& at(int r, int w) const { return strips_[static_cast<std::size_t>(r) * across_ + w]; }

 private:
  int rows_, across_;
  std::vector<Strip> strips_;
};

// Over tows r0 to r1, one of which may be left out.
std::optional<Looks> looks_in(const Strips& strips, const Repeat& repeat, int r0, int r1, int w, int without = -1) {
  constexpr int kLeast = 4;
  Looks out;
  std::array<int, 5> count{};
  for (int r = std::max(0, r0); r <= std::min(r1, strips.rows() - 1); ++r) {
    if (r == without) continue;
    const Strip& strip = strips.at(r, w);
    for (int k = 0; k < repeat.length; ++k) {
      out.mean[k] += strip.sum[k];
      count[k] += strip.count[k];
    }
  }
  for (int k = 0; k < repeat.length; ++k) {
    if (count[k] < kLeast) return {};
    out.mean[k] *= 1.0 / count[k];
    out.all += out.mean[k] * (1.0 / repeat.length);
  }
  for (int k = 0; k < repeat.length; ++k) out.mean[k] -= out.all;
  return out;
}

constexpr int kAround = 6;  // tows to either side that say how the repeat looks here

// How much of the repeat's contrast a run of one tow shows: 1 like its neighbours, 0 when one and the same set lies on
// top all along, as it does where the tow is missing. NaN where too little is seen.
double share_of_repeat(const Crossings& x, const Repeat& repeat, const Strips& strips, int r, int w) {
  const int run = repeat.run(), c0 = w * kStep;
  const auto around = looks_in(strips, repeat, r - kAround, r + kAround, w, r);
  if (!around) return std::nan("");
  double shown = 0, full = 0;
  int known = 0;
  for (int c = c0; c < c0 + run; ++c) {
    if (!x.known(r, c)) continue;
    const Look& expected = around->mean[repeat.place(x, r, c)];
    shown += (x.look(r, c) - around->all).dot(expected);
    full += expected.dot(expected);
    ++known;
  }
  // Contrast of the repeat, in units of the picture's own scatter: below a third nothing is told.
  constexpr double kLeastContrast = 0.3;
  if (known < run - 2 || full / (known * kLooks) < kLeastContrast * kLeastContrast) return std::nan("");
  return shown / full;
}

// By how many places the repeat jumps between tow r - 1 and tow r; 0: not at all. `clear`: how well the two sides agree
// after the jump, [-1, 1].
struct Jump {
  int places = 0;
  double clear = 0.0, without = 1.0;
};

Jump jump_at(const Strips& strips, const Repeat& repeat, int r, int w) {
  constexpr int kDeep = 5;
  const auto above = looks_in(strips, repeat, r - kDeep, r - 1, w),
             below = looks_in(strips, repeat, r, r + kDeep - 1, w);
  Jump jump;
  if (!above || !below) return jump;
  double a = 0, b = 0;
  for (int k = 0; k < repeat.length; ++k) {
    a += above->mean[k].dot(above->mean[k]);
    b += below->mean[k].dot(below->mean[k]);
  }
  for (int m = 0; m < repeat.length; ++m) {
    double sum = 0;
    for (int k = 0; k < repeat.length; ++k) sum += above->mean[k].dot(below->mean[(k + m) % repeat.length]);
    const double agreement = sum / std::sqrt(a * b + 1e-12);
    if (m == 0) jump.without = agreement;
    if (m == 0 || agreement > jump.clear) jump.places = m, jump.clear = agreement;
  }
  return jump;
}

// A stretch of one tow, columns first to last.
struct Stretch {
  int row, first, last;
  bool closed;
};

// Windows of a tow that are at fault, joined to stretches; a window is told by its first crossing over kStep.
void join(std::vector<Stretch>& found, int row, int window, int run, bool closed) {
  const int first = window * kStep, last = first + run - 1;
  if (!found.empty() && found.back().row == row && found.back().last < last && found.back().last + kStep >= last)
    found.back().last = last;
  else
    found.push_back({row, first, last, closed});
}

// Median and robust scatter of a column's values within `reach` rows, without those next to `row`.
struct Usual {
  double middle = 0.0, scatter = 1e9;
};

Usual usual_near(const cv::Mat1d& values, int row, int col) {
  constexpr int kReach = 20;
  std::vector<double> list;
  for (int r = std::max(0, row - kReach); r <= std::min(values.rows - 1, row + kReach); ++r) {
    if (std::abs(r - row) > 2 && !std::isnan(values(r, col))) list.push_back(values(r, col));
  }
  if (list.size() < 10) return {};
  Usual usual;
  usual.middle = median(list);
  for (double& v : list) v = std::abs(v - usual.middle);
  usual.scatter = 1.48 * median(list);
  return usual;
}

// Mean of a row's known values; NaN where less than 0.6 of them or fewer than six are known.
double row_mean(const cv::Mat1d& values, int row) {
  double sum = 0;
  int known = 0;
  for (int w = 0; w < values.cols; ++w) {
    if (std::isnan(values(row, w))) continue;
    sum += values(row, w);
    ++known;
  }
  return known < 6 || known < 0.6 * values.cols ? std::nan("") : sum / known;
}

// A tow that is broken shows the repeat over the rest of its run.
bool shows_in_part(const cv::Mat1d& values, int row) {
  int known = 0, sound = 0;
  for (int w = 0; w < values.cols; ++w) {
    known += !std::isnan(values(row, w));
    sound += values(row, w) > 0.75;
  }
  return sound > 0.15 * known;
}

// Tows missing all across. Over whole rows sound tows of 17 sheets by an independent generator, whose light swaps warp
// and weft within a face, show 0.68 or more of the repeat; the three missing picks among them 0.51 to 0.58, those of
// generated cloth 0.3 to 0.5.
void whole_rows(const cv::Mat1d& pair, int run, std::vector<Stretch>& found) {
  constexpr double kMost = 0.62;
  std::vector<double> means;
  for (int r = 0; r < pair.rows; ++r) means.push_back(row_mean(pair, r));
  for (int r = 2; r + 3 < pair.rows; ++r) {
    if (means[r] < kMost && !shows_in_part(pair, r) && !(means[r - 1] <= means[r]) && !(means[r + 1] < means[r]))
      found.push_back({r, 0, (pair.cols - 1) * kStep + run - 1, false});
  }
}

// Parts of tows, told more carefully: single windows of sound tows by the independent generator reach 0.32, though
// never two next to each other that are both below 0.53 and more than 9.5 scatters off the usual. Generated broken tows
// show 0.29 to 0.52, 12.6 scatters off or more. Areas without a pattern, dry or under a pool, are wider than two tows.
std::vector<Stretch> open_stretches(const Crossings& x, const Repeat& repeat, const Strips& strips) {
  constexpr double kMost = 0.53, kSound = 0.75, kTimes = 11.0, kLeastScatter = 0.04;
  const int run = repeat.run(), across = strips.across();
  cv::Mat1d share(x.rows(), across, std::nan("")), pair(x.rows(), across, std::nan(""));
  for (int r = 0; r < share.rows; ++r) {
    for (int w = 0; w < across; ++w) share(r, w) = share_of_repeat(x, repeat, strips, r, w);
  }
  // Where borders between tows are read half a tow off, the gap takes from two: their mean does not depend on it.
  for (int r = 0; r + 1 < share.rows; ++r) {
    for (int w = 0; w < across; ++w) pair(r, w) = 0.5 * (share(r, w) + share(r + 1, w));
  }
  std::vector<Stretch> found;
  whole_rows(pair, run, found);
  for (int r = 2; r + 3 < share.rows; ++r) {
    for (int w = 0; w < across; ++w) {
      const double here = pair(r, w);
      if (!(here < kMost && share(r - 1, w) > kSound && share(r + 2, w) > kSound)) continue;
      if (!(here < pair(r - 1, w) && here <= pair(r + 1, w))) continue;
      const Usual usual = usual_near(pair, r, w);
      if (usual.middle - here > kTimes * std::max(usual.scatter, kLeastScatter)) join(found, r, w, run, false);
    }
  }
  return found;
}

// How much better the two sides agree after the jump: 1.05 to 1.9 where a tow is left out, at most 0.8 on sound cloth
// (one face of drags to 12 degrees; none elsewhere).
std::vector<Stretch> closed_stretches(const Crossings& x, const Repeat& repeat, const Strips& strips) {
  constexpr double kClear = 0.7, kLost = 0.4, kBetter = 0.9;
  const int run = repeat.run(), across = strips.across();
  cv::Mat1d clear = cv::Mat1d::zeros(x.rows() + 1, across);
  for (int r = 0; r < clear.rows; ++r) {
    for (int w = 0; w < across; ++w) {
      const Jump jump = jump_at(strips, repeat, r, w);
      if (jump.places != 0 && jump.clear > kClear && jump.without < kLost && jump.clear - jump.without > kBetter)
        clear(r, w) = jump.clear - jump.without;
    }
  }
  std::vector<Stretch> found;
  for (int r = 1; r + 1 < clear.rows; ++r) {
    for (int w = 0; w < across; ++w) {
      if (clear(r, w) > 0 && clear(r, w) >= clear(r - 1, w) && clear(r, w) > clear(r + 1, w))
        join(found, r, w, run, true);
    }
  }
  return found;
}

// A stretch is the union of windows in which a good third of the crossings is at fault: it reaches that much too far.
constexpr double kTooFar = 1.0 / 3.0;

// Two lines less than three tows apart along the same stretch are one fault; the first of the list stays.
std::vector<Stretch> single(const std::vector<Stretch>& all) {
  std::vector<Stretch> kept;
  for (const Stretch& s : all) {
    const bool same = std::any_of(kept.begin(), kept.end(), [&](const Stretch& k) {
      return std::abs(k.row - s.row) < 3 && s.first <= k.last && k.first <= s.last;
    });
    if (!same) kept.push_back(s);
  }
  return kept;
}

TowFault told(const Crossings& x, const Stretch& s, const Repeat& repeat, bool warp, SheetPoint origin) {
  const int run = repeat.run();
  TowFault fault;
  fault.warp = warp;
  fault.closed_up = s.closed;
  const auto place = [&](int c) {
    const cv::Point2d p = x.at(std::min(s.row, x.rows() - 1), c);
    return SheetPoint{origin.x + p.x, origin.y + p.y};
  };
  int begin = 0, end = x.cols() - 1;  // of the tow, as far as it is seen
  const auto seen = [&](int c) { return x.known(std::min(s.row, x.rows() - 1), c); };
  while (begin < end && !seen(begin)) ++begin;
  while (end > begin && !seen(end)) --end;
  const bool from_start = s.first - begin < run / 2, to_end = end - s.last < run / 2;
  int first = from_start ? begin : s.first + static_cast<int>(kTooFar * run),
      last = to_end ? end : s.last - static_cast<int>(kTooFar * run);
  if (first > last) first = last = (s.first + s.last) / 2;
  first = std::clamp(first, begin, end);
  last = std::clamp(last, begin, end);
  while (first < last && !seen(first)) ++first;
  while (last > first && !seen(last)) --last;
  fault.from = place(first);
  fault.to = place(last);
  fault.whole = from_start && to_end;
  return fault;
}

std::vector<TowFault> faults_of_set(const Crossings& x, const Repeat& repeat, bool warp, SheetPoint origin) {
  if (windows(x, repeat.run()) == 0) return {};
  const Strips strips(x, repeat);
  std::vector<Stretch> all = closed_stretches(x, repeat, strips);
  const std::vector<Stretch> open = open_stretches(x, repeat, strips);
  all.insert(all.end(), open.begin(), open.end());
  std::stable_sort(all.begin(), all.end(),
                   [](const Stretch& a, const Stretch& b) { return a.last - a.first > b.last - b.first; });
  std::erase_if(all, [&](const Stretch& s) { return s.last - s.first < repeat.run() + kStep - 1; });
  std::vector<TowFault> faults;
  for (const Stretch& s : single(all)) faults.push_back(told(x, s, repeat, warp, origin));
  return faults;
}

}  // namespace

std::vector<TowFault> find_tow_faults(const Normalised& n, const WeavePhase& phase, const cv::Mat1f& measured) {
  const Crossings warp(n, phase.warp_count, phase.weft_count, measured, phase.step_mm), weft = warp.transposed();
  std::array<std::vector<TowFault>, 2> found;
  cv::parallel_for_(cv::Range(0, 2), [&](const cv::Range& sets) {
    for (int set = sets.start; set < sets.end; ++set) {
      found[static_cast<std::size_t>(set)] =
          set == 0 ? faults_of_set(warp, {phase.repeat, phase.warp_factor, phase.weft_factor}, true, n.origin)
                   : faults_of_set(weft, {phase.repeat, phase.weft_factor, phase.warp_factor}, false, n.origin);
    }
  });
  found[0].insert(found[0].end(), found[1].begin(), found[1].end());
  return found[0];
}

}  // namespace sheetloupe::weave
