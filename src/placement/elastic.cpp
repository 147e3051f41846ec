#include "placement/elastic.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace sheetloupe::placement {
namespace {

// Limited-memory BFGS (Nocedal, Updating quasi-Newton matrices with limited storage, Math. Comp. 35, 1980) with seven
// pairs and Armijo's rule. A step moves no blank more than 8 mm; ten steps that save under 1.5 % end the descent.
constexpr std::size_t kPairs = 7;
constexpr double kLongestStep = 8.0;
constexpr int kMostSteps = 300;
constexpr int kWatched = 10;
constexpr double kWorthwhile = 0.985;
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

class Springs {
 public:
  Springs(const Problem& problem, const Layout& layout) : problem_(problem), layout_(layout) {
    widest_ = 0.0;
    for (const Disc& d : layout) widest_ = std::max(widest_, problem.spacing_of(d.kind, d.kind));
  }

  double operator()(const Vector& x, Vector& gradient) {
    refresh(x);
    std::fill(gradient.begin(), gradient.end(), 0.0);
    double energy = 0.0;
    for (const Pair& pair : pairs_) {
      const double dx = x[2 * pair.a] - x[2 * pair.b], dy = x[2 * pair.a + 1] - x[2 * pair.b + 1];
      const double wanted = pair.spacing + kMargin, d2 = dx * dx + dy * dy;
      if (d2 >= wanted * wanted) continue;
      const double d = std::sqrt(std::max(d2, 1e-18)), short_by = wanted - d;
      energy += short_by * short_by;
      const double k = -2 * short_by / d;
      gradient[2 * pair.a] += k * dx;
      gradient[2 * pair.a + 1] += k * dy;
      gradient[2 * pair.b] -= k * dx;
      gradient[2 * pair.b + 1] -= k * dy;
    }
    for (std::size_t i = 0; i < layout_.size(); ++i) {
      const Disc& d = layout_[i];
      if (!d.fixed) {
        energy +=
            problem_.field(d.kind).energy({x[2 * i], x[2 * i + 1]}, d.extra, gradient[2 * i], gradient[2 * i + 1]);
      } else {
        gradient[2 * i] = gradient[2 * i + 1] = 0.0;
      }
    }
    return energy;
  }

 private:
  struct Pair {
    std::size_t a, b;
    double spacing;
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
    for (std::size_t i = 0; i < layout_.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const double spacing = problem_.spacing_of(layout_[i].kind, layout_[j].kind), reach = spacing + kSkin * widest_;
        const double dx = x[2 * i] - x[2 * j], dy = x[2 * i + 1] - x[2 * j + 1];
        if (dx * dx + dy * dy < reach * reach) pairs_.push_back({i, j, spacing});
      }
    }
  }

  const Problem& problem_;
  const Layout& layout_;
  double widest_;
  Vector listed_;
  std::vector<Pair> pairs_;
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

double relax(const Problem& problem, Layout& layout, Budget& budget) {
  Springs springs(problem, layout);
  Vector x(2 * layout.size()), g(x.size()), trial(x.size()), next(x.size());
  for (std::size_t i = 0; i < layout.size(); ++i) {
    x[2 * i] = layout[i].at.x;
    x[2 * i + 1] = layout[i].at.y;
  }
  double energy = springs(x, g);
  ++budget.spent;
  Memory memory;
  Vector d(x.size()), moved(x.size()), change(x.size());
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
      ++budget.spent;
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
  for (std::size_t i = 0; i < layout.size(); ++i) layout[i].at = {x[2 * i], x[2 * i + 1]};
  return energy;
}

bool fits(const Problem& problem, const Layout& layout, int kind, SheetPoint at) {
  for (const Disc& d : layout) {
    const double spacing = problem.spacing_of(kind, d.kind);
    const double dx = d.at.x - at.x, dy = d.at.y - at.y, least = spacing - kRounding;
    if (dx * dx + dy * dy < least * least) return false;
  }
  return problem.field(kind).allowed(at);
}

bool valid(const Problem& problem, const Layout& layout) {
  for (std::size_t i = 0; i < layout.size(); ++i) {
    if (!problem.field(layout[i].kind).allowed(layout[i].at)) return false;
    for (std::size_t j = 0; j < i; ++j) {
      if (distance_mm(layout[i].at, layout[j].at) < problem.spacing_of(layout[i].kind, layout[j].kind) - kRounding)
        return false;
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
      const double short_by =
          problem.spacing_of(layout[i].kind, layout[j].kind) - distance_mm(layout[i].at, layout[j].at);
      if (short_by <= 0.0) continue;
      strain[i] += short_by * short_by;
      strain[j] += short_by * short_by;
    }
  }
  return strain;
}

}  // namespace sheetloupe::placement
