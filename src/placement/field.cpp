#include "placement/field.h"

#include <algorithm>
#include <limits>

namespace sheetloupe::placement {
namespace {

// Centres wander out of the region while they are being pushed; the grid reaches this far around it.
constexpr double kAround = 9.0;
constexpr double kFinestCell = 3.0;

}  // namespace

double violation(const Barrier& barrier, SheetPoint c, double& gx, double& gy) {
  const Reach r = reach(*barrier.obstacle, c);
  const double outside = barrier.outer - r.least;
  // The core is no way out for what is wider than the core.
  const bool core = barrier.obstacle->around.radius.value() <= barrier.inner;
  const double within = core ? r.most - barrier.inner : std::numeric_limits<double>::infinity();
  gx = gy = 0.0;
  if (outside <= within) {
    const double dx = c.x - r.near.x, dy = c.y - r.near.y, d = std::hypot(dx, dy);
    const bool covered = !barrier.obstacle->round() && r.least < 0.0;
    const double sign = covered ? 1.0 : -1.0;
    if (d > 1e-12) {
      gx = sign * dx / d;
      gy = sign * dy / d;
    } else {
      gx = 1.0;
    }
    return outside;
  }
  const double dx = c.x - r.far.x, dy = c.y - r.far.y, d = std::hypot(dx, dy);
  if (d > 1e-12) {
    gx = dx / d;
    gy = dy / d;
  }
  return within;
}

Field::Field(Region region, std::vector<Barrier> barriers, double spare)
    : region_(std::move(region)), barriers_(std::move(barriers)) {
  low_ = {std::numeric_limits<double>::max(), std::numeric_limits<double>::max()};
  high_ = {-low_.x, -low_.y};
  const auto add = [&](const Ring& ring) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const SheetPoint p = ring[i];
      edges_.push_back({p, ring[(i + 1) % ring.size()]});
      low_ = {std::min(low_.x, p.x), std::min(low_.y, p.y)};
      high_ = {std::max(high_.x, p.x), std::max(high_.y, p.y)};
    }
  };
  for (const Polygon& polygon : region_) {
    add(polygon.outer);
    for (const Ring& hole : polygon.holes) add(hole);
  }
  if (!region_.empty()) build_grid(spare);
}

void Field::build_grid(double spare) {
  origin_ = {low_.x - kAround, low_.y - kAround};
  const double width = high_.x - low_.x + 2 * kAround, height = high_.y - low_.y + 2 * kAround;
  // At most some 20,000 cells, whatever the sheet.
  cell_ = std::max(kFinestCell, std::sqrt(width * height / 20000.0));
  columns_ = static_cast<int>(width / cell_) + 1;
  rows_ = static_cast<int>(height / cell_) + 1;
  row_edges_.resize(static_cast<std::size_t>(rows_));
  for (std::uint32_t e = 0; e < edges_.size(); ++e) {
    const auto [top, bottom] = std::minmax(edges_[e].a.y, edges_[e].b.y);
    const int first = std::clamp(static_cast<int>((top - origin_.y) / cell_), 0, rows_ - 1);
    const int last = std::clamp(static_cast<int>((bottom - origin_.y) / cell_), 0, rows_ - 1);
    for (int row = first; row <= last; ++row) row_edges_[static_cast<std::size_t>(row)].push_back(e);
  }
  cells_.resize(static_cast<std::size_t>(rows_) * static_cast<std::size_t>(columns_));
  for (int row = 0; row < rows_; ++row) {
    for (int column = 0; column < columns_; ++column) {
      const SheetPoint middle{origin_.x + (column + 0.5) * cell_, origin_.y + (row + 0.5) * cell_};
      fill_cell(cells_[static_cast<std::size_t>(row * columns_ + column)], middle, spare);
    }
  }
}

// Distances change no faster than position: within a cell, by no more than its half diagonal.
void Field::fill_cell(Cell& cell, SheetPoint middle, double spare) {
  const double half = cell_ * std::sqrt(0.5);
  std::vector<double> distances(edges_.size());
  double nearest = std::numeric_limits<double>::max();
  for (std::size_t e = 0; e < edges_.size(); ++e) {
    distances[e] = distance_mm(middle, nearest_on_segment(edges_[e].a, edges_[e].b, middle));
    nearest = std::min(nearest, distances[e]);
  }
  cell.inside = nearest > half + kMargin && inside(middle);
  cell.first_edge = static_cast<std::uint32_t>(cell_edges_.size());
  for (std::uint32_t e = 0; !cell.inside && e < edges_.size(); ++e) {
    if (distances[e] <= nearest + 2 * half) cell_edges_.push_back(e);
  }
  cell.edges = static_cast<std::uint32_t>(cell_edges_.size()) - cell.first_edge;
  cell.first_barrier = static_cast<std::uint32_t>(cell_barriers_.size());
  for (std::uint32_t b = 0; b < barriers_.size(); ++b) {
    const Barrier& barrier = barriers_[b];
    const Circle& around = barrier.obstacle->around;
    const double away = distance_mm(middle, around.centre) - around.radius.value();
    if (away > barrier.outer + spare + half) continue;
    double gx = 0.0, gy = 0.0;
    if (violation(barrier, middle, gx, gy) > -half - spare - kMargin) cell_barriers_.push_back(b);
  }
  cell.barriers = static_cast<std::uint32_t>(cell_barriers_.size()) - cell.first_barrier;
}

const Field::Cell& Field::cell_at(SheetPoint c) const {
  const int column = std::clamp(static_cast<int>((c.x - origin_.x) / cell_), 0, columns_ - 1);
  const int row = std::clamp(static_cast<int>((c.y - origin_.y) / cell_), 0, rows_ - 1);
  return cells_[static_cast<std::size_t>(row * columns_ + column)];
}

// Even-odd rule over the edges of the point's row.
bool Field::inside(SheetPoint c) const {
  const int row = static_cast<int>(std::floor((c.y - origin_.y) / cell_));
  if (row < 0 || row >= rows_) return false;
  bool odd = false;
  for (const std::uint32_t e : row_edges_[static_cast<std::size_t>(row)]) {
    const SheetPoint a = edges_[e].a, b = edges_[e].b;
    if ((a.y > c.y) == (b.y > c.y)) continue;
    if (c.x < a.x + (c.y - a.y) / (b.y - a.y) * (b.x - a.x)) odd = !odd;
  }
  return odd;
}

double Field::depth(SheetPoint c, SheetPoint& near) const {
  const Cell& cell = cell_at(c);
  if (cell.inside) {
    near = c;
    return std::numeric_limits<double>::infinity();
  }
  double best2 = std::numeric_limits<double>::infinity();
  for (std::uint32_t i = cell.first_edge; i < cell.first_edge + cell.edges; ++i) {
    const Edge& edge = edges_[cell_edges_[i]];
    const SheetPoint q = nearest_on_segment(edge.a, edge.b, c);
    const double d2 = (q.x - c.x) * (q.x - c.x) + (q.y - c.y) * (q.y - c.y);
    if (d2 < best2) {
      best2 = d2;
      near = q;
    }
  }
  const double d = std::sqrt(best2);
  return inside(c) ? d : -d;
}

double Field::energy(SheetPoint c, double extra, double& gx, double& gy) const {
  double energy = 0.0;
  SheetPoint near;
  const double inward = depth(c, near);
  if (inward < kMargin) {
    const double shortfall = kMargin - inward;
    energy += shortfall * shortfall;
    const double d = std::max(std::abs(inward), 1e-12), sign = inward < 0.0 ? 1.0 : -1.0;
    gx += 2 * shortfall * sign * (c.x - near.x) / d;
    gy += 2 * shortfall * sign * (c.y - near.y) / d;
  }
  const Cell& cell = cell_at(c);
  for (std::uint32_t i = cell.first_barrier; i < cell.first_barrier + cell.barriers; ++i) {
    const Barrier& barrier = barriers_[cell_barriers_[i]];
    if (barrier.in_region && extra <= 0.0) continue;
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
  SheetPoint near;
  if (depth(c, near) < -kRounding) return false;
  const Cell& cell = cell_at(c);
  for (std::uint32_t i = cell.first_barrier; i < cell.first_barrier + cell.barriers; ++i) {
    double ux = 0.0, uy = 0.0;
    if (violation(barriers_[cell_barriers_[i]], c, ux, uy) > kRounding) return false;
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
