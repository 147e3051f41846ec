// Smooth noise for textures.
#pragma once

#include <cstdint>

namespace sheetloupe::scene {

/// Value noise in [-1, 1], smooth at unit scale, the same for the same place and seed.
double noise1(double x, std::uint64_t seed);
double noise2(double x, double y, std::uint64_t seed);

}  // namespace sheetloupe::scene
