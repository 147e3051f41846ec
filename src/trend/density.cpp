// Where on the sheet defects gather.
#include <algorithm>
#include <cmath>

#include "sheetloupe/trend.h"
#include "trend/distributions.h"

namespace sheetloupe {
namespace {

constexpr int kMostColumns = 12;
constexpr double kRate = 0.05;  // of a false crowd anywhere on the map

}  // namespace

DensityMap density_map(std::span<const DensitySheet> sheets, double cell_mm) {
  DensityMap map;
  double width = 0.0, height = 0.0;
  for (const DensitySheet& s : sheets) {
    const bool counts = s.datum && s.width_mm > 0 && s.height_mm > 0;
    map.left_out += counts ? 0 : 1;
    if (!counts) continue;
    ++map.sheets;
    width = std::max(width, s.width_mm);
    height = std::max(height, s.height_mm);
  }
  if (map.sheets == 0) return map;
  map.cell_mm = std::max(cell_mm, std::max(width, height) / kMostColumns);
  map.columns = std::max(1, static_cast<int>(std::ceil(width / map.cell_mm - 1e-9)));
  map.rows = std::max(1, static_cast<int>(std::ceil(height / map.cell_mm - 1e-9)));
  map.cells.resize(static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows));
  const auto cell = [&](int c, int r) -> DensityCell& {
    return map.cells[static_cast<std::size_t>(r) * static_cast<std::size_t>(map.columns) + static_cast<std::size_t>(c)];
  };
  // Border cells are covered in part; the exposure is the covered area, summed over the sheets.
  std::vector<double> exposure(map.cells.size(), 0.0);
  double covered = 0.0;
  for (const DensitySheet& s : sheets) {
    if (!s.datum || s.width_mm <= 0 || s.height_mm <= 0) continue;
    for (int r = 0; r < map.rows; ++r) {
      for (int c = 0; c < map.columns; ++c) {
        const double w = std::clamp(s.width_mm - c * map.cell_mm, 0.0, map.cell_mm);
        const double h = std::clamp(s.height_mm - r * map.cell_mm, 0.0, map.cell_mm);
        exposure[static_cast<std::size_t>(&cell(c, r) - map.cells.data())] += w * h;
        covered += w * h;
        if (w >= map.cell_mm / 2 && h >= map.cell_mm / 2) ++cell(c, r).sheets;
      }
    }
    for (const SheetPoint& p : s.defects) {
      const int c = static_cast<int>(std::floor(p.x / map.cell_mm)),
                r = static_cast<int>(std::floor(p.y / map.cell_mm));
      if (c < 0 || r < 0 || c >= map.columns || r >= map.rows) continue;
      ++cell(c, r).count;
      ++map.defects;
    }
  }
  const double cells = static_cast<double>(map.cells.size());
  for (std::size_t i = 0; i < map.cells.size(); ++i) {
    DensityCell& d = map.cells[i];
    d.expected = covered > 0 ? map.defects * exposure[i] / covered : 0.0;
    d.crowded = map.sheets >= kLeastSheets && trend::poisson_tail(d.count, d.expected) < kRate / cells;
  }
  return map;
}

}  // namespace sheetloupe
