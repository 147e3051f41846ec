#include "placement/elastic.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace sheetloupe::placement {
namespace {

// Limited-memory BFGS (Nocedal, Updating quasi-Newton matrices with limited storage, Math. Comp. 35, 1980) with seven
// pairs and Armijo's rule. A step moves no blank more than 8 mm; ten steps that save under 3 % end the descent.
constexpr std::size_t kPairs = 7;
constexpr double kLongestStep = 8.0;
constexpr int kMostSteps = 300;
constexpr int kWatched = 10;
constexpr double kWorthwhile = 0.97;
// Neighbours are listed this much beyond their spacing and listed anew when a blank has moved half of it.
constexpr double kSkin = 0.35;

using Vector = std::vector<double>;

// Vectors here have even length. Four sums that do not wait for each other.
double dot(const Vector& a, const Vector& b) {
  double s0 = 0.0, s1 = 0.0, s2 = 0.0, s3 = 0.0;
  const std::size_t n = a.size();
  std::size_t i = 0;
  for (; i + 4 <= n; i += 4) {
    s0 += a[i] * b[i];
    s1 += a[i + 1] * b[i + 1];
    s2 += a[i + 2] * b[i + 2];
    s3 += a[i + 3] * b[i + 3];
  }
  if (i + 2 <= n) {
    s0 += a[i] * b[i];
    s1 += a[i + 1] * b[i + 1];
  }
  return (s0 + s2) + (s1 + s3);
}

void add_times(Vector& to, double k, const Vector& v) {
  for (std::size_t i = 0; i < to.size(); ++i) to[i] += k * v[i];
}

// The energy of every distance in which one of the active discs takes part; the others stand still.
class Springs {
 public:
  Springs(const Problem& problem, const Layout& layout, std::vector<std::size_t> active)
      : problem_(problem), layout_(layout), active_(std::move(active)), still_(layout.size(), true) {
    for (const Disc& d : layout) widest_ = std::max(widest_, problem.spacing_of(d.kind, d.kind));
    for (const std::size_t i : active_) still_[i] = false;
  }

  const std::vector<std::size_t>& active() const { return active_; }

  double operator()(const Vector& x, Vector& gradient) {
    refresh(x);
    std::fill(gradient.begin(), gradient.end(), 0.0);
    double energy = 0.0;
    for (const Pair& pair : pairs_) {
      const double dx = x[pair.a] - x[pair.b], dy = x[pair.a + 1] - x[pair.b + 1];
      const double d2 = dx * dx + dy * dy;
      if (d2 >= pair.wanted * pair.wanted) continue;
      const double d = std::sqrt(std::max(d2, 1e-18)), short_by = pair.wanted - d, k = -2 * short_by / d;
      energy += short_by * short_by;
      gradient[pair.a] += k * dx;
      gradient[pair.a + 1] += k * dy;
      gradient[pair.b] -= k * dx;
      gradient[pair.b + 1] -= k * dy;
    }
    for (const Stop& stop : stops_) {
      const double dx = x[stop.a] - stop.at.x, dy = x[stop.a + 1] - stop.at.y, d2 = dx * dx + dy * dy;
      if (d2 >= stop.wanted * stop.wanted) continue;
      const double d = std::sqrt(std::max(d2, 1e-18)), short_by = stop.wanted - d, k = -2 * short_by / d;
      energy += short_by * short_by;
      gradient[stop.a] += k * dx;
      gradient[stop.a + 1] += k * dy;
    }
    for (std::size_t k = 0; k < active_.size(); ++k) {
      const Disc& d = layout_[active_[k]];
      energy += problem_.field(d.kind).energy({x[2 * k], x[2 * k + 1]}, d.extra, gradient[2 * k], gradient[2 * k + 1]);
    }
    return energy;
  }

 private:
  struct Pair {
    std::size_t a, b;  // of their x in the vector
    double wanted;
  };
  struct Stop {
    std::size_t a;
    SheetPoint at;  // of one that stands still
    double wanted;
  };

  void refresh(const Vector& x) {
    const double limit = kSkin * widest_ / 2;
    bool moved = listed_.empty();
    for (std::size_t i = 0; !moved && i < x.size(); i += 2) {
      const double dx = x[i] - listed_[i], dy = x[i + 1] - listed_[i + 1];
      moved = dx * dx + dy * dy > limit * limit;
    }
    if (!moved) return;
    listed_ = x;
    pairs_.clear();
    stops_.clear();
    for (std::size_t i = 0; i < active_.size(); ++i) {
      const int kind = layout_[active_[i]].kind;
      const SheetPoint at{x[2 * i], x[2 * i + 1]};
      const auto near = [&](SheetPoint other, double wanted) {
        const double reach = wanted + kSkin * widest_;
        return apart2(at, other) < reach * reach;
      };
      for (std::size_t j = 0; j < i; ++j) {
        const double wanted = problem_.spacing_of(kind, layout_[active_[j]].kind) + kMargin;
        if (near({x[2 * j], x[2 * j + 1]}, wanted)) pairs_.push_back({2 * i, 2 * j, wanted});
      }
      for (std::size_t j = 0; j < layout_.size(); ++j) {
        if (!still_[j]) continue;
        const double wanted = problem_.spacing_of(kind, layout_[j].kind) + kMargin;
        if (near(layout_[j].at, wanted)) stops_.push_back({2 * i, layout_[j].at, wanted});
      }
    }
  }

  const Problem& problem_;
  const Layout& layout_;
  std::vector<std::size_t> active_;
  std::vector<bool> still_;
  double widest_ = 0.0;
  Vector listed_;
  std::vector<Pair> pairs_;
  std::vector<Stop> stops_;
};

// The two-loop recursion over a ring of pairs.
class Memory {
 public:
  /// `step` and `change` are taken over; what they held before is undefined afterwards.
  void add(Vector& step, Vector& change) {
    const double sy = dot(step, change);
    if (sy <= 1e-14) return;
    if (pairs_.size() == kPairs) std::rotate(pairs_.begin(), pairs_.begin() + 1, pairs_.end());
    if (pairs_.size() < kPairs) pairs_.emplace_back();
    Pair& pair = pairs_.back();
    pair.step.swap(step);
    pair.change.swap(change);
    pair.product = sy;
    // A lone squared overlap between two blanks has curvature 4 along their line.
    scale_ = sy / dot(pair.change, pair.change);
  }
  void clear() {
    pairs_.clear();
    scale_ = 0.25;
  }
  void direction(const Vector& gradient, Vector& d) const {
    d = gradient;
    std::array<double, kPairs> alpha{};
    for (std::size_t k = pairs_.size(); k-- > 0;) {
      alpha[k] = dot(pairs_[k].step, d) / pairs_[k].product;
      add_times(d, -alpha[k], pairs_[k].change);
    }
    for (double& v : d) v *= scale_;
    for (std::size_t k = 0; k < pairs_.size(); ++k) {
      const double beta = dot(pairs_[k].change, d) / pairs_[k].product;
      add_times(d, alpha[k] - beta, pairs_[k].step);
    }
    for (double& v : d) v = -v;
  }

 private:
  struct Pair {
    Vector step, change;
    double product = 0.0;
  };
  std::vector<Pair> pairs_;
  double scale_ = 0.25;
};

void shorten(Vector& d) {
  double longest = 0.0;
  for (std::size_t i = 0; i < d.size(); i += 2) longest = std::max(longest, d[i] * d[i] + d[i + 1] * d[i + 1]);
  longest = std::sqrt(longest);
  if (longest <= kLongestStep) return;
  for (double& v : d) v *= kLongestStep / longest;
}

}  // namespace

double Dice::normal() {
  const double u = std::max(uniform(), 1e-300), v = uniform();
  return std::sqrt(-2 * std::log(u)) * std::cos(2 * std::numbers::pi * v);
}

namespace {

Vector positions(const Layout& layout, const std::vector<std::size_t>& active) {
  Vector x(2 * active.size());
  for (std::size_t k = 0; k < active.size(); ++k) {
    x[2 * k] = layout[active[k]].at.x;
    x[2 * k + 1] = layout[active[k]].at.y;
  }
  return x;
}

// Limited-memory descent from x; the number of evaluations in `evaluations`.
double descend(Springs& springs, Vector& x, std::uint64_t& evaluations) {
  Vector g(x.size()), trial(x.size()), next(x.size()), d(x.size()), moved(x.size()), change(x.size());
  double energy = springs(x, g);
  ++evaluations;
  Memory memory;
  std::vector<double> history{energy};
  for (int step = 0; step < kMostSteps && !holds(energy); ++step) {
    memory.direction(g, d);
    double slope = dot(g, d);
    if (slope >= 0.0) {
      memory.clear();
      memory.direction(g, d);
      slope = dot(g, d);
      if (slope >= 0.0) break;
    }
    shorten(d);
    slope = dot(g, d);
    double length = 1.0, reached = 0.0;
    bool found = false;
    for (int cut = 0; cut < 12 && !found; ++cut, length *= 0.4) {
      for (std::size_t i = 0; i < x.size(); ++i) trial[i] = x[i] + length * d[i];
      reached = springs(trial, next);
      ++evaluations;
      found = reached <= energy + 1e-4 * length * slope;
    }
    if (!found) break;
    moved.resize(x.size());
    change.resize(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
      moved[i] = trial[i] - x[i];
      change[i] = next[i] - g[i];
    }
    memory.add(moved, change);
    x.swap(trial);
    g.swap(next);
    energy = reached;
    history.push_back(energy);
    if (history.size() > kWatched && energy > kWorthwhile * history[history.size() - 1 - kWatched]) break;
  }
  return energy;
}

}  // namespace

double relax(const Problem& problem, Layout& layout, Budget& budget, const std::vector<std::size_t>& active) {
  Springs springs(problem, layout, active);
  Vector x = positions(layout, active);
  std::uint64_t evaluations = 0;
  const double energy = descend(springs, x, evaluations);
  budget.spend(evaluations, active.size(), layout.size());
  for (std::size_t k = 0; k < active.size(); ++k) layout[active[k]].at = {x[2 * k], x[2 * k + 1]};
  return energy;
}

double relax(const Problem& problem, Layout& layout, Budget& budget) {
  std::vector<std::size_t> active;
  for (std::size_t i = 0; i < layout.size(); ++i) {
    if (!layout[i].fixed) active.push_back(i);
  }
  return relax(problem, layout, budget, active);
}

double energy_of(const Problem& problem, const Layout& layout, const std::vector<std::size_t>& active) {
  Springs springs(problem, layout, active);
  Vector gradient(2 * active.size());
  return springs(positions(layout, active), gradient);
}

bool fits(const Problem& problem, const Layout& layout, int kind, SheetPoint at) {
  for (const Disc& d : layout) {
    const double least = problem.spacing_of(kind, d.kind) - kRounding;
    if (apart2(d.at, at) < least * least) return false;
  }
  return problem.field(kind).allowed(at);
}

bool valid(const Problem& problem, const Layout& layout) {
  for (std::size_t i = 0; i < layout.size(); ++i) {
    if (!problem.field(layout[i].kind).allowed(layout[i].at)) return false;
    for (std::size_t j = 0; j < i; ++j) {
      const double least = problem.spacing_of(layout[i].kind, layout[j].kind) - kRounding;
      if (apart2(layout[i].at, layout[j].at) < least * least) return false;
    }
  }
  return true;
}

std::vector<double> strains(const Problem& problem, const Layout& layout) {
  std::vector<double> strain(layout.size());
  for (std::size_t i = 0; i < layout.size(); ++i) {
    double gx = 0.0, gy = 0.0;
    strain[i] += problem.field(layout[i].kind).energy(layout[i].at, layout[i].extra, gx, gy);
    for (std::size_t j = 0; j < i; ++j) {
      const double spacing = problem.spacing_of(layout[i].kind, layout[j].kind);
      const double d2 = apart2(layout[i].at, layout[j].at);
      if (d2 >= spacing * spacing) continue;
      const double short_by = spacing - std::sqrt(d2);
      strain[i] += short_by * short_by;
      strain[j] += short_by * short_by;
    }
  }
  return strain;
}

}  // namespace sheetloupe::placement
