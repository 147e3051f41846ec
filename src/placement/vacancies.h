// Where one more blank would be squeezed least: a grid of penalties, the static part computed once.
#pragma once

#include <vector>

#include "placement/elastic.h"

namespace sheetloupe::placement {

class Vacancies {
 public:
  Vacancies(const Problem& problem, int kind);
  /// The least squeezed places beside `layout` (its disc `without` left out), best first, apart from each other.
  std::vector<SheetPoint> best(const Layout& layout, std::size_t without, std::size_t count) const;

 private:
  const Problem& problem_;
  int kind_;
  SheetPoint low_;
  double pitch_ = 1.0;
  int columns_ = 0, rows_ = 0;
  std::vector<float> ground_;
};

}  // namespace sheetloupe::placement
