// Where one more blank would be squeezed least: a grid of penalties. What the region costs is computed once, what a
// blank costs is stamped on it.
#pragma once

#include <vector>

#include "placement/elastic.h"

namespace sheetloupe::placement {

class Vacancies {
 public:
  Vacancies(const Problem& problem, int kind);
  /// The least squeezed places beside `layout` (its disc `without` left out), best first, apart from each other.
  std::vector<SheetPoint> best(const Layout& layout, std::size_t without, std::size_t count);
  /// The least squeezed place in the square about this circle and what it costs there; infinite when the square misses
  /// the region.
  std::pair<double, SheetPoint> least_within(const Layout& layout, const Circle& area);

 private:
  static constexpr float kNowhere = 1e30F;
  struct Row {
    int first, end;  // columns where it is not 0
  };
  struct Stamps {
    int reach = 0;  // cells to either side
    std::vector<float> values;
    std::vector<Row> rows;
  };
  Stamps make_stamps(double spacing) const;
  struct Part {
    int top, bottom, left, right;  // rows and columns, the last ones included
  };
  void stamp(const Disc& disc, const Part& part);
  std::size_t index(int row, int column) const {
    return static_cast<std::size_t>(row + rim_) * stride_ + column + rim_;
  }

  const Problem& problem_;
  int kind_;
  SheetPoint low_;
  double pitch_ = 1.0;
  int columns_ = 0, rows_ = 0;
  int rim_ = 1;  // cells around the grid
  int stride_ = 0;
  std::vector<float> ground_, cost_;
  std::vector<Stamps> stamps_;               // by kind
  std::vector<std::pair<float, int>> lows_;  // scratch
};

}  // namespace sheetloupe::placement
