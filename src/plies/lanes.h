// Numbers side by side, because a sum or a best of one would wait for itself at every step.
#pragma once

namespace sheetloupe::plies {

using FourDoubles = double __attribute__((vector_size(32), aligned(8), may_alias));
using EightFloats = float __attribute__((vector_size(32), aligned(4), may_alias));

inline const FourDoubles& four_at(const double* values) { return *reinterpret_cast<const FourDoubles*>(values); }
inline FourDoubles& four_at(double* values) { return *reinterpret_cast<FourDoubles*>(values); }
inline const EightFloats& eight_at(const float* values) { return *reinterpret_cast<const EightFloats*>(values); }

}  // namespace sheetloupe::plies
