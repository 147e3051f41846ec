// Eight numbers worked on together: fits the machine's vector registers.
#pragma once

namespace sheetloupe::weave {

constexpr int kLanes = 8;
using Eight = float __attribute__((vector_size(kLanes * sizeof(float)), aligned(sizeof(float))));

}  // namespace sheetloupe::weave
