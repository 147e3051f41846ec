#include "placement/field.h"

#include <algorithm>
#include <limits>

namespace sheetloupe::placement {
namespace {

// Centres wander out of the region while they are being pushed; the grid reaches this far around it.
constexpr double kAround = 9.0;
constexpr double kFinestCell = 3.0;

// The core is no way out for what is wider than the core.
bool has_core(const Barrier& barrier) { return barrier.obstacle->around.radius.value() <= barrier.inner; }

// Most centres are clear of most round barriers: told without a root.
bool clear_of(const Barrier& barrier, SheetPoint c, double margin) {
  const Circle& around = barrier.obstacle->around;
  const double d2 = apart2(c, around.centre);
  const double far = barrier.outer + around.radius.value() + margin;
  if (d2 > far * far) return true;
  const double core = barrier.inner - around.radius.value() - margin;
  return core > 0.0 && d2 < core * core;
}

}  // namespace

double violation(const Barrier& barrier, SheetPoint c, double& gx, double& gy) {
  const Reach r = reach(*barrier.obstacle, c);
  const double outside = barrier.outer - r.least;
  const double within = has_core(barrier) ? r.most - barrier.inner : std::numeric_limits<double>::infinity();
  const bool outward = outside <= within;
  const SheetPoint from = outward ? r.near : r.far;
  const double dx = c.x - from.x, dy = c.y - from.y, d = std::sqrt(dx * dx + dy * dy);
  if (d > 1e-12) {
    const bool covered = outward && !barrier.obstacle->round() && r.least < 0.0;
    const double sign = outward && !covered ? -1.0 : 1.0;
    gx = sign * dx / d;
    gy = sign * dy / d;
  } else {
    gx = outward ? 1.0 : 0.0;
    gy = 0.0;
  }
  return outward ? outside : within;
}

bool violated(const Barrier& barrier, SheetPoint c, double mm) {
  const bool core = has_core(barrier);
  if (core && !reaches_beyond(*barrier.obstacle, c, barrier.inner + mm)) return false;
  return nearer_than(*barrier.obstacle, c, barrier.outer - mm);
}

Field::Field(Region region, std::vector<Barrier> barriers, double spare)
    : region_(std::move(region)), barriers_(std::move(barriers)), edges_(border_of(region_)) {
  low_ = {std::numeric_limits<double>::max(), std::numeric_limits<double>::max()};
  high_ = {-low_.x, -low_.y};
  for (const BorderEdge& edge : edges_) {
    low_ = {std::min(low_.x, edge.a.x), std::min(low_.y, edge.a.y)};
    high_ = {std::max(high_.x, edge.a.x), std::max(high_.y, edge.a.y)};
  }
  for (const Barrier& barrier : barriers_) widest_ = std::max(widest_, barrier.outer);
  std::stable_partition(barriers_.begin(), barriers_.end(), [](const Barrier& b) { return !b.in_region; });
  if (!region_.empty()) build_grid(spare);
}

// First for blocks of kBlock x kBlock cells, then for each cell from what matters in its block.
void Field::build_grid(double spare) {
  constexpr int kBlock = 8;
  origin_ = {low_.x - kAround, low_.y - kAround};
  const double width = high_.x - low_.x + 2 * kAround, height = high_.y - low_.y + 2 * kAround;
  // At most some 20,000 cells, whatever the sheet.
  cell_ = std::max(kFinestCell, std::sqrt(width * height / 20000.0));
  columns_ = static_cast<int>(width / cell_) + 1;
  rows_ = static_cast<int>(height / cell_) + 1;
  Candidates all;
  for (std::uint32_t e = 0; e < edges_.size(); ++e) all.edges.push_back(e);
  for (std::uint32_t b = 0; b < barriers_.size(); ++b) all.barriers.push_back(b);
  std::vector<Candidates> blocks;
  const double half = cell_ * std::sqrt(0.5);
  bool inside = false;
  const int across = (columns_ - 1) / kBlock + 1;
  for (int row = 0; row < rows_; row += kBlock) {
    for (int column = 0; column < columns_; column += kBlock) {
      const SheetPoint middle{origin_.x + (column + kBlock / 2.0) * cell_, origin_.y + (row + kBlock / 2.0) * cell_};
      blocks.push_back(within(all, middle, half * kBlock, spare, inside));
    }
  }
  cells_.reserve(static_cast<std::size_t>(rows_) * static_cast<std::size_t>(columns_));
  for (int row = 0; row < rows_; ++row) {
    for (int column = 0; column < columns_; ++column) {
      const SheetPoint middle{origin_.x + (column + 0.5) * cell_, origin_.y + (row + 0.5) * cell_};
      const auto& block = blocks[static_cast<std::size_t>(row / kBlock) * across + column / kBlock];
      Cell cell;
      const Candidates here = within(block, middle, half, spare, cell.inside);
      cell.first_edge = static_cast<std::uint32_t>(cell_edges_.size());
      if (!cell.inside) cell_edges_.insert(cell_edges_.end(), here.edges.begin(), here.edges.end());
      cell.edges = static_cast<std::uint32_t>(cell_edges_.size()) - cell.first_edge;
      cell.first_barrier = static_cast<std::uint32_t>(cell_barriers_.size());
      cell_barriers_.insert(cell_barriers_.end(), here.barriers.begin(), here.barriers.end());
      cell.barriers = static_cast<std::uint32_t>(here.barriers.size());
      cell.needed = static_cast<std::uint32_t>(std::count_if(here.barriers.begin(), here.barriers.end(),
                                                             [&](std::uint32_t b) { return !barriers_[b].in_region; }));
      cells_.push_back(cell);
    }
  }
}

// Distances change no faster than position: within a square, by no more than its half diagonal.
Field::Candidates Field::within(const Candidates& all, SheetPoint middle, double half, double spare,
                                bool& inside) const {
  Candidates kept;
  std::vector<double> distances2;
  double least2 = std::numeric_limits<double>::infinity();
  for (const std::uint32_t e : all.edges) {
    Nearest here;
    nearest_on_edge(edges_[e], middle, here);
    distances2.push_back(here.distance2);
    least2 = std::min(least2, here.distance2);
  }
  const double least = std::sqrt(least2), far = least + 2 * half;
  Nearest nearest;
  for (std::size_t i = 0; i < all.edges.size(); ++i) {
    if (distances2[i] > far * far) continue;
    kept.edges.push_back(all.edges[i]);
    nearest_on_edge(edges_[all.edges[i]], middle, nearest);
  }
  inside = nearest.inside && least > half + std::max(kMargin, drawn_mm());
  for (const std::uint32_t b : all.barriers) {
    const Barrier& barrier = barriers_[b];
    const Circle& around = barrier.obstacle->around;
    const double away = distance_mm(middle, around.centre) - around.radius.value();
    if (away > barrier.outer + spare + half) continue;
    if (violated(barrier, middle, -half - spare - kMargin)) kept.barriers.push_back(b);
  }
  return kept;
}

const Field::Cell& Field::cell_at(SheetPoint c) const {
  const int column = std::clamp(static_cast<int>((c.x - origin_.x) / cell_), 0, columns_ - 1);
  const int row = std::clamp(static_cast<int>((c.y - origin_.y) / cell_), 0, rows_ - 1);
  return cells_[static_cast<std::size_t>(row) * columns_ + column];
}

double Field::depth(const Cell& cell, SheetPoint c, SheetPoint& near) const {
  if (cell.inside) {
    near = c;
    return std::numeric_limits<double>::infinity();
  }
  Nearest best;
  for (std::uint32_t i = cell.first_edge; i < cell.first_edge + cell.edges; ++i)
    nearest_on_edge(edges_[cell_edges_[i]], c, best);
  near = best.point;
  const double d = std::sqrt(best.distance2);
  return best.inside ? d : -d;
}

double Field::energy(SheetPoint c, double extra, double& gx, double& gy) const {
  double energy = 0.0;
  const Cell& cell = cell_at(c);
  SheetPoint near;
  const double inward = depth(cell, c, near);
  if (inward < kMargin) {
    const double shortfall = kMargin - inward;
    energy += shortfall * shortfall;
    const double d = std::max(std::abs(inward), 1e-12), sign = inward < 0.0 ? 1.0 : -1.0;
    gx += 2 * shortfall * sign * (c.x - near.x) / d;
    gy += 2 * shortfall * sign * (c.y - near.y) / d;
  }
  const std::uint32_t tested = extra > 0.0 ? cell.barriers : cell.needed;
  for (std::uint32_t i = cell.first_barrier; i < cell.first_barrier + tested; ++i) {
    const Barrier& barrier = barriers_[cell_barriers_[i]];
    if (clear_of(barrier, c, kMargin + extra)) continue;
    double ux = 0.0, uy = 0.0;
    const double shortfall = violation(barrier, c, ux, uy) + kMargin + extra;
    if (shortfall <= 0.0) continue;
    energy += shortfall * shortfall;
    gx += 2 * shortfall * ux;
    gy += 2 * shortfall * uy;
  }
  return energy;
}

bool Field::allowed(SheetPoint c) const {
  if (region_.empty()) return false;
  const Cell& cell = cell_at(c);
  SheetPoint near;
  const double inward = depth(cell, c, near);
  if (inward < -kRounding) return false;
  // Near the border all are tested: the region stands for the growth of some only as well as it is drawn.
  const std::uint32_t tested = inward < drawn_mm() ? cell.barriers : cell.needed;
  for (std::uint32_t i = cell.first_barrier; i < cell.first_barrier + tested; ++i) {
    const Barrier& barrier = barriers_[cell_barriers_[i]];
    if (!clear_of(barrier, c, 0.0) && violated(barrier, c, kRounding)) return false;
  }
  return true;
}

double Field::clearance(SheetPoint c) const {
  double least = std::numeric_limits<double>::infinity();
  for (const Barrier& barrier : barriers_) {
    double ux = 0.0, uy = 0.0;
    least = std::min(least, -violation(barrier, c, ux, uy));
  }
  return least;
}

}  // namespace sheetloupe::placement
