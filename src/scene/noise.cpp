#include "scene/noise.h"

#include <cmath>

#include "sheetloupe/scene.h"

namespace sheetloupe {
namespace scene {
namespace {

// A hash of lattice place and seed to [-1, 1] (splitmix64 finaliser, Steele, Lea and Flood 2014).
double lattice(std::int64_t x, std::int64_t y, std::uint64_t seed) {
  std::uint64_t z = static_cast<std::uint64_t>(x) * 0x9E3779B97F4A7C15ULL ^
                    static_cast<std::uint64_t>(y) * 0xC2B2AE3D27D4EB4FULL ^ seed * 0x165667B19E3779F9ULL;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
  z ^= z >> 31U;
  return static_cast<double>(z >> 11U) / 4503599627370496.0 - 1.0;
}

double ease(double t) { return t * t * (3 - 2 * t); }

}  // namespace

double noise1(double x, std::uint64_t seed) {
  const double f = std::floor(x), u = ease(x - f);
  const auto i = static_cast<std::int64_t>(f);
  return (1 - u) * lattice(i, 0, seed) + u * lattice(i + 1, 0, seed);
}

double noise2(double x, double y, std::uint64_t seed) {
  const double fx = std::floor(x), fy = std::floor(y), u = ease(x - fx), v = ease(y - fy);
  const auto i = static_cast<std::int64_t>(fx), j = static_cast<std::int64_t>(fy);
  return (1 - v) * ((1 - u) * lattice(i, j, seed) + u * lattice(i + 1, j, seed)) +
         v * ((1 - u) * lattice(i, j + 1, seed) + u * lattice(i + 1, j + 1, seed));
}

}  // namespace scene

double SceneRandom::uniform() {
  state_ += 0x9E3779B97F4A7C15ULL;
  std::uint64_t z = state_;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
  z ^= z >> 31U;
  return static_cast<double>(z >> 11U) / 9007199254740992.0;
}

double SceneRandom::normal() {
  return std::sqrt(-2 * std::log(uniform() + 1e-300)) * std::cos(6.283185307179586 * uniform());
}

}  // namespace sheetloupe
