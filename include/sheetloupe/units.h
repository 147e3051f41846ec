// Lengths with their unit in the type. Construction is explicit, arithmetic stays within one unit, and going from
// pixels to millimetres needs a PxPerMm: `Mm(1) + Px(1)` and `Mm m = 3.0` do not compile.
#pragma once

#include <compare>

namespace sheetloupe {

template <class Tag>
class Length {
 public:
  constexpr Length() = default;
  constexpr explicit Length(double value) : value_(value) {}
  constexpr double value() const { return value_; }

  friend constexpr auto operator<=>(Length, Length) = default;
  friend constexpr Length operator+(Length a, Length b) { return Length(a.value_ + b.value_); }
  friend constexpr Length operator-(Length a, Length b) { return Length(a.value_ - b.value_); }
  friend constexpr Length operator-(Length a) { return Length(-a.value_); }
  friend constexpr Length operator*(Length a, double k) { return Length(a.value_ * k); }
  friend constexpr Length operator*(double k, Length a) { return Length(a.value_ * k); }
  friend constexpr Length operator/(Length a, double k) { return Length(a.value_ / k); }
  friend constexpr double operator/(Length a, Length b) { return a.value_ / b.value_; }

 private:
  double value_ = 0.0;
};

using Mm = Length<struct MmTag>;
using Px = Length<struct PxTag>;

/// How many pixels show one millimetre.
class PxPerMm {
 public:
  constexpr explicit PxPerMm(double value) : value_(value) {}
  constexpr double value() const { return value_; }
  friend constexpr Px operator*(Mm length, PxPerMm scale) { return Px(length.value() * scale.value_); }
  friend constexpr Mm operator/(Px length, PxPerMm scale) { return Mm(length.value() / scale.value_); }

 private:
  double value_;
};

/// A measured figure and the half width of its 95 % interval, in one unit.
struct Measured {
  double value = 0.0;
  double u95 = 0.0;
};

}  // namespace sheetloupe
