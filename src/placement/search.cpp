#include "placement/search.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

#include "placement/vacancies.h"

namespace sheetloupe::placement {
namespace {

constexpr std::size_t kPool = 14;   // members tried in turn
constexpr std::size_t kBehind = 3;  // a member this far behind the record is dropped
constexpr std::size_t kNone = std::numeric_limits<std::size_t>::max();
constexpr int kFirstHops = 10, kMostHops = 120;
constexpr int kPatience = 25;               // hops without gain before the best strained layout is taken up again
constexpr std::uint64_t kVacancyCost = 15;  // a vacancy grid costs about as much as this many energy evaluations
constexpr double kWarmth = 0.03;            // a worse layout is accepted with exp(-loss / (kWarmth x best energy))

struct Member {
  Layout layout;  // valid
  Layout trial;   // one more, strained; empty before the first attempt
  Layout best;    // least strained trial so far
  double trial_energy = 0.0, best_energy = 0.0;
  int hops = kFirstHops, since = 0;
};

class Filling {
 public:
  Filling(const Problem& problem, const Layout& present, const Goal& goal, Dice& dice, Budget& budget)
      : problem_(problem), present_(present), goal_(goal), dice_(dice), budget_(budget) {}

  Layout run() {
    record_ = present_;
    if (problem_.field(goal_.kind).empty() || goal_.most <= 0) return record_;
    for (const Layout& start : goal_.starts) take(start);
    for (const Layout& seed : seeds(problem_, present_, goal_.kind, 4)) take(seed);
    budget_.spent += 400;  // the lattices
    if (pool_.empty()) take(present_);
    for (std::size_t turn = 0; !done(); ++turn) {
      // The fullest first; then each in its turn.
      if (turn >= pool_.size()) {
        add_member();
        turn = 0;
      }
      improve(pool_[turn]);
    }
    if (record_.size() > present_.size() + static_cast<std::size_t>(goal_.most)) {
      record_.resize(present_.size() + static_cast<std::size_t>(goal_.most));
    }
    return record_;
  }

 private:
  bool full() const { return record_.size() >= present_.size() + static_cast<std::size_t>(goal_.most); }
  bool done() { return full() || budget_.over(); }

  void take(const Layout& layout) {
    if (layout.size() + kBehind < record_.size()) return;
    if (layout.size() >= record_.size() && valid(problem_, layout)) {
      if (layout.size() > record_.size() || pool_.empty()) record_ = layout;
    }
    Member member;
    member.layout = layout;
    pool_.insert(std::upper_bound(pool_.begin(), pool_.end(), member,
                                  [](const Member& a, const Member& b) { return a.layout.size() > b.layout.size(); }),
                 std::move(member));
    if (pool_.size() > kPool) pool_.pop_back();
  }

  Vacancies& vacancies(int kind) {
    auto it = vacancies_.find(kind);
    if (it == vacancies_.end()) it = vacancies_.emplace(kind, Vacancies(problem_, kind)).first;
    return it->second;
  }

  void improve(Member& m) {
    for (int hop = 0; hop < m.hops && !done();) {
      if (m.trial.empty()) {
        m.trial = m.layout;
        budget_.spent += kVacancyCost;
        const auto places = vacancies(goal_.kind).best(m.trial, kNone, 1);
        if (places.empty()) return;
        m.trial.push_back({goal_.kind, places.front()});
        m.trial_energy = relax(problem_, m.trial, budget_);
        m.best = m.trial;
        m.best_energy = m.trial_energy;
        m.since = 0;
      } else {
        ++hop;
        this->hop(m);
      }
      if (holds(m.best_energy) && valid(problem_, m.best)) {
        m.layout = m.best;
        m.trial.clear();
        m.hops = kFirstHops;
        hop = 0;
        if (m.layout.size() > record_.size()) record_ = m.layout;
      }
      if (goal_.progress && !goal_.progress(static_cast<int>(record_.size()))) budget_.stopped = true;
    }
    m.hops = std::min(2 * m.hops, kMostHops);
  }

  void hop(Member& m) {
    Layout next = m.trial;
    const double choice = dice_.uniform();
    if (choice < 0.55) {
      move_strained(next);
    } else if (choice < 0.88) {
      shake_patch(next);
    } else {
      shake(next, (0.03 + 0.12 * dice_.uniform()) * problem_.spacing_of(goal_.kind, goal_.kind));
    }
    if (choice > 0.92) swap_kinds(next);
    const double energy = relax(problem_, next, budget_);
    const double loss = energy - m.trial_energy;
    if (loss < 0.0 || dice_.uniform() < std::exp(-loss / (kWarmth * m.best_energy + 1e-12))) {
      m.trial = std::move(next);
      m.trial_energy = energy;
    }
    if (m.trial_energy < m.best_energy) {
      m.best = m.trial;
      m.best_energy = m.trial_energy;
      m.since = 0;
    } else if (++m.since >= kPatience) {
      m.trial = m.best;
      m.trial_energy = m.best_energy;
      m.since = 0;
    }
  }

  void move_strained(Layout& layout) {
    const std::vector<double> strain = strains(problem_, layout);
    std::vector<std::pair<double, std::size_t>> order;
    for (std::size_t i = 0; i < layout.size(); ++i) {
      if (!layout[i].fixed) order.emplace_back(-strain[i], i);
    }
    if (order.empty()) return;
    const std::size_t among = std::min<std::size_t>(6, order.size());
    std::partial_sort(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(among), order.end());
    const std::size_t chosen = order[dice_.below(among)].second;
    budget_.spent += kVacancyCost;
    const auto places = vacancies(layout[chosen].kind).best(layout, chosen, 8);
    if (!places.empty()) layout[chosen].at = places[dice_.below(places.size())];
  }

  void shake_patch(Layout& layout) {
    const double s = problem_.spacing_of(goal_.kind, goal_.kind);
    const SheetPoint middle = layout[dice_.below(layout.size())].at;
    const double radius = (1.2 + 1.5 * dice_.uniform()) * s, sigma = (0.08 + 0.3 * dice_.uniform()) * s;
    for (Disc& d : layout) {
      if (d.fixed || distance_mm(d.at, middle) > radius) continue;
      d.at = {d.at.x + sigma * dice_.normal(), d.at.y + sigma * dice_.normal()};
    }
  }

  void shake(Layout& layout, double sigma) {
    for (Disc& d : layout) {
      if (!d.fixed) d.at = {d.at.x + sigma * dice_.normal(), d.at.y + sigma * dice_.normal()};
    }
  }

  void swap_kinds(Layout& layout) {
    Disc& a = layout[dice_.below(layout.size())];
    Disc& b = layout[dice_.below(layout.size())];
    if (a.kind != b.kind && !a.fixed && !b.fixed) std::swap(a.at, b.at);
  }

  // Relaxes; takes out the most strained blank until all distances hold. False when the present ones are strained.
  bool mend(Layout& layout) {
    while (!budget_.over()) {
      if (holds(relax(problem_, layout, budget_)) && valid(problem_, layout)) return true;
      const std::vector<double> strain = strains(problem_, layout);
      std::size_t worst = kNone;
      for (std::size_t i = present_.size(); i < layout.size(); ++i) {
        if (worst == kNone || strain[i] > strain[worst]) worst = i;
      }
      if (worst == kNone || layout.size() + kBehind < record_.size()) return false;
      layout.erase(layout.begin() + static_cast<std::ptrdiff_t>(worst));
    }
    return false;
  }

  void add_member() {
    const Field& field = problem_.field(goal_.kind);
    const double s = problem_.spacing_of(goal_.kind, goal_.kind), choice = dice_.uniform();
    Layout layout = present_;
    if (choice < 0.4) {
      const double tight = s * (1 - 0.03 * dice_.uniform()), angle = std::numbers::pi / 3 * dice_.uniform();
      const double u = dice_.uniform(), v = 2 * dice_.uniform();
      for (const SheetPoint& p : hexagonal(field, tight, angle, u, v)) {
        const bool free = std::all_of(present_.begin(), present_.end(), [&](const Disc& d) {
          return distance_mm(d.at, p) > 0.9 * problem_.spacing_of(d.kind, goal_.kind);
        });
        if (free) layout.push_back({goal_.kind, p});
      }
    } else if (choice < 0.7 && record_.size() > present_.size()) {
      const SheetPoint middle = record_[dice_.below(record_.size())].at;
      std::vector<double> away;
      for (const Disc& d : record_) away.push_back(distance_mm(d.at, middle));
      std::vector<double> sorted = away;
      std::sort(sorted.begin(), sorted.end());
      const double radius = sorted[sorted.size() / 3];
      layout.assign(record_.begin(), record_.begin() + static_cast<std::ptrdiff_t>(present_.size()));
      for (std::size_t i = present_.size(); i < record_.size(); ++i) {
        if (away[i] > radius) layout.push_back(record_[i]);
      }
      refill(layout, record_.size());
    } else {
      while (layout.size() < record_.size()) {
        layout.push_back({goal_.kind,
                          {field.low().x + dice_.uniform() * (field.high().x - field.low().x),
                           field.low().y + dice_.uniform() * (field.high().y - field.low().y)}});
      }
    }
    if (mend(layout)) take(layout);
  }

  void refill(Layout& layout, std::size_t size) {
    const Field& field = problem_.field(goal_.kind);
    for (int tries = 0; tries < 400 && layout.size() < size; ++tries) {
      const SheetPoint p{field.low().x + dice_.uniform() * (field.high().x - field.low().x),
                         field.low().y + dice_.uniform() * (field.high().y - field.low().y)};
      if (fits(problem_, layout, goal_.kind, p)) layout.push_back({goal_.kind, p});
    }
    budget_.spent += 20;
  }

  const Problem& problem_;
  const Layout& present_;
  const Goal& goal_;
  Dice& dice_;
  Budget& budget_;
  Layout record_;
  std::vector<Member> pool_;
  std::map<int, Vacancies> vacancies_;
};

}  // namespace

Layout fill(const Problem& problem, const Layout& present, const Goal& goal, Dice& dice, Budget& budget) {
  return Filling(problem, present, goal, dice, budget).run();
}

}  // namespace sheetloupe::placement
