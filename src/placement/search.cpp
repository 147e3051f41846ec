#include "placement/search.h"

#include <algorithm>
#include <cmath>
#include <future>
#include <limits>
#include <map>
#include <numbers>
#include <optional>

#include "placement/tangency.h"
#include "placement/vacancies.h"

namespace sheetloupe::placement {
namespace {

constexpr std::size_t kBehind = 3;  // a member this far behind the record is dropped
constexpr std::size_t kNone = std::numeric_limits<std::size_t>::max();
constexpr double kInfinite = std::numeric_limits<double>::infinity();
constexpr std::size_t kPool = 4;  // members tried in turn; 2 and 8 find as many
// Patches laid anew in a turn, then hops of the most promising trial; 40 and 300 patches find as many. One search hops
// long, the other short: among defects short is as good (80.1 and 80.3 blanks on six sheets with three seeds each),
// but of the 81 squares of placement_bench with two seeds each short alone misses one and costs 1.7 times the time.
constexpr int kWalk = 100, kFewHops = 10, kManyHops = 120;
constexpr int kHopsAlone = 100;         // where there is nothing to lay anew
constexpr int kPatience = 25;           // hops without gain before the best strained layout is taken up again
constexpr double kWarmth = 0.03;        // a worse layout is accepted with exp(-loss / (kWarmth x best energy))
constexpr double kNeighbourhood = 1.7;  // spacings around a change that are relaxed first
constexpr double kHope = 1.5;           // a change that leaves more than this times the energy is given up
constexpr double kLeastRuin = 1.0, kMostRuin = 2.2;  // radius of a ruined patch, spacings
constexpr double kAround = 0.5;                      // spacings beyond it that are laid anew
constexpr double kSqueezed = 2.0;                    // spacings around one more blank that make room for it
// One patch in two or so is worth squeezing one more blank into: the bar falls and rises by these factors.
constexpr double kLower = 0.97, kHigher = 1.03;
constexpr int kSweeps = 8;  // seeds laid into corners
// What other work costs, in energy evaluations of the whole layout.
constexpr std::uint64_t kLatticesCost = 400, kSweepCost = 70, kVacancyCost = 3, kPatchCost = 1, kRefillCost = 4;

struct Member {
  Layout layout;  // valid
  Layout trial;   // one more, strained; empty before the first attempt
  Layout best;    // least strained trial so far
  double trial_energy = 0.0, best_energy = 0.0;
  int since = 0;
};

class Filling {
 public:
  /// `lattices`: of the goal's kind, beside `present`.
  Filling(const Problem& problem, const Layout& present, const Goal& goal, const std::vector<Layout>& lattices,
          int hops, std::uint64_t seed)
      : problem_(problem),
        present_(present),
        goal_(goal),
        lattices_(lattices),
        hops_(hops),
        dice_(seed),
        record_(present) {}

  /// Until `limit` evaluations are spent in all, or nothing more is wanted.
  void advance(std::uint64_t limit) {
    budget_.limit = limit;
    if (problem_.field(goal_.kind).empty()) return;
    if (pool_.empty() && !full()) sow();
    for (; !done(); ++turn_) {
      // The fullest first; then each in its turn.
      if (turn_ >= pool_.size()) {
        add_member();
        turn_ = 0;
      }
      improve(pool_[turn_]);
    }
  }

  /// A valid layout found elsewhere.
  void offer(const Layout& layout) {
    if (layout.size() > record_.size()) take(layout);
  }
  const Layout& record() const { return record_; }
  const Budget& budget() const { return budget_; }
  bool full() const { return record_.size() >= present_.size() + static_cast<std::size_t>(goal_.most); }

 private:
  void sow() {
    for (const Layout& start : goal_.starts) take(start);
    for (const Layout& lattice : lattices_) take(lattice);
    for (int k = 0; k < kSweeps; ++k)
      take(corners().fill(present_, 2 * std::numbers::pi * dice_.uniform(), static_cast<std::size_t>(goal_.most)));
    budget_.spent += kLatticesCost + kSweeps * kSweepCost;
    if (pool_.empty()) take(present_);
  }

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

  Corners& corners() {
    if (!corners_) corners_.emplace(problem_, goal_.kind);
    return *corners_;
  }

  // Ruin and recreate (Schrimpf et al., Record breaking optimization results using the ruin and recreate principle,
  // J. Comput. Phys. 159, 2000): a round patch of blanks is taken out and the hole filled from its corners in some new
  // direction. What is no worse is kept, so the layout wanders among its equals. Where a patch came out roomy, one more
  // blank is squeezed in; the least strained of these attempts is the member's trial.
  void walk(Member& m) {
    double least = kInfinite;
    for (int step = 0; step < kWalk && !done() && m.layout.size() > present_.size(); ++step) {
      const std::optional<Circle> patch = lay_anew(m.layout);
      if (!patch) continue;
      note(m.layout);
      Layout trial = m.layout;
      const double energy = squeeze(trial, *patch);
      if (holds(energy) && valid(problem_, trial)) {
        m.layout = std::move(trial);
        m.trial.clear();
        least = kInfinite;
        note(m.layout);
      } else if (energy < least) {
        m.trial = std::move(trial);
        least = energy;
      }
    }
  }

  /// The patch, when the layout did not lose by it.
  std::optional<Circle> lay_anew(Layout& layout) {
    const double s = problem_.spacing_of(goal_.kind, goal_.kind);
    const SheetPoint middle = layout[present_.size() + dice_.below(layout.size() - present_.size())].at;
    const double radius = (kLeastRuin + (kMostRuin - kLeastRuin) * dice_.uniform()) * s;
    Layout next;
    for (std::size_t i = 0; i < layout.size(); ++i) {
      if (i < present_.size() || apart2(layout[i].at, middle) > radius * radius) next.push_back(layout[i]);
    }
    const double direction = 2 * std::numbers::pi * dice_.uniform();
    next = corners().fill(std::move(next), direction, layout.size(), Circle{middle, Mm(radius + kAround * s)});
    budget_.spent += kRefillCost;
    if (next.size() < layout.size()) return std::nullopt;
    layout = std::move(next);
    return Circle{middle, Mm(radius)};
  }

  /// Puts one more where the patch is roomiest and relaxes around it; infinite when that is not worth the work.
  double squeeze(Layout& layout, const Circle& patch) {
    budget_.spent += kPatchCost;
    const auto [cost, place] = vacancies(goal_.kind).least_within(layout, patch);
    if (bar_ == kInfinite) bar_ = cost;
    if (cost > bar_) {
      bar_ *= kHigher;
      return kInfinite;
    }
    bar_ *= kLower;
    layout.push_back({goal_.kind, place});
    return relax(problem_, layout, budget_, around(layout, {place}, kSqueezed));
  }

  void note(const Layout& layout) {
    if (layout.size() > record_.size()) record_ = layout;
  }

  void improve(Member& m) {
    m.trial.clear();
    const int hops = m.layout.size() > present_.size() ? hops_ : kHopsAlone;
    for (int hop = 0; hop < hops && !done();) {
      if (m.trial.empty()) {
        walk(m);
        if (!begin(m)) return;
      } else {
        ++hop;
        this->hop(m);
      }
      if (holds(m.best_energy) && valid(problem_, m.best)) {
        m.layout = m.best;
        m.trial.clear();
        hop = 0;
        note(m.layout);
      }
      if (goal_.keep_on && !goal_.keep_on(record_.size(), budget_.spent)) budget_.stopped = true;
    }
  }

  /// One more in the roomiest place of all, if the walk has left no trial. False: there is no place at all.
  bool begin(Member& m) {
    if (m.trial.empty()) {
      m.trial = m.layout;
      budget_.spent += kVacancyCost;
      const auto places = vacancies(goal_.kind).best(m.trial, kNone, 1);
      if (places.empty()) return false;
      m.trial.push_back({goal_.kind, places.front()});
      relax(problem_, m.trial, budget_, around(m.trial, {places.front()}));
    }
    m.trial_energy = relax(problem_, m.trial, budget_);
    m.best = m.trial;
    m.best_energy = m.trial_energy;
    m.since = 0;
    return true;
  }

  // A change is relaxed in its neighbourhood first; only what comes near the old energy is worth all blanks' work.
  void hop(Member& m) {
    Layout next = m.trial;
    const double choice = dice_.uniform();
    std::vector<SheetPoint> changed;
    if (choice < 0.55) {
      changed = move_strained(next);
    } else if (choice < 0.88) {
      changed = shake_patch(next);
    } else {
      shake(next, (0.03 + 0.12 * dice_.uniform()) * problem_.spacing_of(goal_.kind, goal_.kind));
    }
    if (choice > 0.92) swap_kinds(next);
    if (!changed.empty()) {
      const std::vector<std::size_t> active = around(next, changed);
      const double before = energy_of(problem_, m.trial, active);
      const double after = relax(problem_, next, budget_, active);
      if (m.trial_energy - before + after > kHope * m.trial_energy) {
        failed(m);
        return;
      }
    }
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
    } else {
      failed(m);
    }
  }

  void failed(Member& m) {
    if (++m.since < kPatience) return;
    m.trial = m.best;
    m.trial_energy = m.best_energy;
    m.since = 0;
  }

  std::vector<std::size_t> around(const Layout& layout, const std::vector<SheetPoint>& places,
                                  double spacings = kNeighbourhood) const {
    const double reach = spacings * problem_.spacing_of(goal_.kind, goal_.kind);
    std::vector<std::size_t> active;
    for (std::size_t i = 0; i < layout.size(); ++i) {
      const bool near = std::any_of(places.begin(), places.end(),
                                    [&](SheetPoint p) { return apart2(layout[i].at, p) < reach * reach; });
      if (near && !layout[i].fixed) active.push_back(i);
    }
    return active;
  }

  // Where it was and where it is now.
  std::vector<SheetPoint> move_strained(Layout& layout) {
    const std::vector<double> strain = strains(problem_, layout);
    std::vector<std::pair<double, std::size_t>> order;
    for (std::size_t i = 0; i < layout.size(); ++i) {
      if (!layout[i].fixed) order.emplace_back(-strain[i], i);
    }
    if (order.empty()) return {};
    const std::size_t among = std::min<std::size_t>(6, order.size());
    std::partial_sort(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(among), order.end());
    const std::size_t chosen = order[dice_.below(among)].second;
    budget_.spent += kVacancyCost;
    const auto places = vacancies(layout[chosen].kind).best(layout, chosen, 8);
    if (places.empty()) return {};
    const SheetPoint from = layout[chosen].at;
    layout[chosen].at = places[dice_.below(places.size())];
    return {from, layout[chosen].at};
  }

  std::vector<SheetPoint> shake_patch(Layout& layout) {
    const double s = problem_.spacing_of(goal_.kind, goal_.kind);
    const SheetPoint middle = layout[dice_.below(layout.size())].at;
    const double radius = (1.2 + 1.5 * dice_.uniform()) * s, sigma = (0.08 + 0.3 * dice_.uniform()) * s;
    std::vector<SheetPoint> changed;
    for (Disc& d : layout) {
      if (d.fixed || apart2(d.at, middle) > radius * radius) continue;
      d.at = {d.at.x + sigma * dice_.normal(), d.at.y + sigma * dice_.normal()};
      changed.push_back(d.at);
    }
    return changed;
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
  const std::vector<Layout>& lattices_;
  int hops_;  // after each walk
  Dice dice_;
  Budget budget_;
  Layout record_;
  std::vector<Member> pool_;
  std::size_t turn_ = 0;
  double bar_ = kInfinite;  // a patch with a squeezed place above it is passed over
  std::map<int, Vacancies> vacancies_;
  std::optional<Corners> corners_;
};

}  // namespace

// Two searches go on their own for so many evaluations, then tell each other what they found: what comes out does not
// depend on which of them was quicker.
Layout fill(const Problem& problem, const Layout& present, const Goal& goal, std::uint64_t seed, Budget& budget) {
  constexpr std::uint64_t kFirstRound = 1000, kLongestRound = 8000;
  const std::uint64_t each = (budget.limit - std::min(budget.limit, budget.spent)) / 2;
  if (goal.most <= 0 || each == 0) return present;
  const std::vector<Layout> lattices = seeds(problem, present, goal.kind, kPool, goal.threads);
  Filling one(problem, present, goal, lattices, kManyHops, seed),
      two(problem, present, goal, lattices, kFewHops, ~seed);
  for (std::uint64_t round = kFirstRound, to = 0; to < each && !budget.stopped;
       round = std::min(2 * round, kLongestRound)) {
    to = std::min(each, to + round);
    auto other = std::async(goal.threads > 1 ? std::launch::async : std::launch::deferred, [&] { two.advance(to); });
    one.advance(to);
    other.get();
    one.offer(two.record());
    two.offer(one.record());
    budget.stopped = one.budget().stopped || two.budget().stopped;
    if (one.full()) break;
  }
  budget.spent += one.budget().spent + two.budget().spent;
  Layout best = one.record();
  best.resize(std::min(best.size(), present.size() + static_cast<std::size_t>(goal.most)));
  return best;
}

}  // namespace sheetloupe::placement
