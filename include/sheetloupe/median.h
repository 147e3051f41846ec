// The middle value: what a robust fit leans on.
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace sheetloupe {

/// The middle of the values in order, the upper of the two middle ones of an even number; 0 of none.
template <class T>
T median(std::vector<T> values) {
  if (values.empty()) return T{};
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace sheetloupe
