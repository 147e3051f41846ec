#include "placement/elastic.h"

#include <algorithm>
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

double dot(const Vector& a, const Vector& b) {
  double sum = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
  return sum;
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
      moved = std::hypot(x[i] - listed_[i], x[i + 1] - listed_[i + 1]) > limit;
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
  void add(Vector step, Vector change) {
    const double sy = dot(step, change);
    if (sy <= 1e-14) return;
    if (steps_.size() == kPairs) {
      steps_.erase(steps_.begin());
      changes_.erase(changes_.begin());
    }
    steps_.push_back(std::move(step));
    changes_.push_back(std::move(change));
  }
  void clear() {
    steps_.clear();
    changes_.clear();
  }
  Vector direction(const Vector& gradient) const {
    Vector d = gradient;
    std::vector<double> alpha(steps_.size());
    for (std::size_t k = steps_.size(); k-- > 0;) {
      alpha[k] = dot(steps_[k], d) / dot(steps_[k], changes_[k]);
      for (std::size_t i = 0; i < d.size(); ++i) d[i] -= alpha[k] * changes_[k][i];
    }
    // A lone squared overlap between two blanks has curvature 4 along their line.
    const double scale =
        steps_.empty() ? 0.25 : dot(steps_.back(), changes_.back()) / dot(changes_.back(), changes_.back());
    for (double& v : d) v *= scale;
    for (std::size_t k = 0; k < steps_.size(); ++k) {
      const double beta = dot(changes_[k], d) / dot(steps_[k], changes_[k]);
      for (std::size_t i = 0; i < d.size(); ++i) d[i] += (alpha[k] - beta) * steps_[k][i];
    }
    for (double& v : d) v = -v;
    return d;
  }

 private:
  std::vector<Vector> steps_, changes_;
};

void shorten(Vector& d) {
  double longest = 0.0;
  for (std::size_t i = 0; i < d.size(); i += 2) longest = std::max(longest, std::hypot(d[i], d[i + 1]));
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
  std::vector<double> history{energy};
  for (int step = 0; step < kMostSteps && !holds(energy); ++step) {
    Vector d = memory.direction(g);
    double slope = dot(g, d);
    if (slope >= 0.0) {
      memory.clear();
      d = memory.direction(g);
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
    Vector moved(x.size()), change(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) {
      moved[i] = trial[i] - x[i];
      change[i] = next[i] - g[i];
    }
    memory.add(std::move(moved), std::move(change));
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
