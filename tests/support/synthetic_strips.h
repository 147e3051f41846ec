// Strips around a sheet as a camera would see them, from exact truth. Own projection formulas: nothing of src/scale.
#pragma once

#include <array>
#include <cstdint>
#include <random>
#include <vector>

#include "sheetloupe/scale.h"

namespace sheetloupe {

/// Numbers from the engine's raw bits: the same with every standard library.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  double uniform(double from, double to);
  double normal(double sd);  // sum of twelve uniforms: |z| <= 6 sd

 private:
  std::mt19937_64 engine_;
};

/// One strip as it lies; table mm, w up.
struct TrueStrip {
  double x = 0.0, y = 0.0, turn_deg = 0.0;                  // its middle and its angle
  double height_mm = 0.0, lift_mm = 0.0, bow_mm = 0.0;      // above the table; right end up and left end down; middle
  double print = 1.0, anisotropy = 0.0, ink_bias_mm = 0.0;  // as printed
};

/// A sheet of `width` x `height` mm whose middle lies at the table's origin, and the camera over it.
struct SyntheticScene {
  double width = 240.0, height = 180.0, thickness = 6.0, skew_deg = 0.0;
  double distance_mm = 460.0, tilt_deg = 10.0, azimuth_deg = 30.0, roll_deg = 4.0;
  int image_width = 4000, image_height = 3000;
  double focal_px = 3000.0, told_focal_35mm = 26.0;
  double k1 = 0.0, k2 = 0.0, cx = 0.0, cy = 0.0, p1 = 0.0, p2 = 0.0, shutter_a = 0.0, shutter_c = 0.0;
  double table_bow_mm = 0.0;  // at 250 mm
  std::array<TrueStrip, 4> strips = laid_around();
  double corner_noise_px = 0.0, outline_noise_px = 0.0;

  static std::array<TrueStrip, 4> laid_around();
  ImagePoint seen(double x, double y, double w) const;  // table mm to photo px
  std::array<SheetPoint, 4> sheet_corners() const;      // table mm, clockwise as seen, the first is the frame's origin
  ScaleInput input(Dice& dice, std::vector<int> strips_seen = {0, 1, 2, 3}) const;
  /// `n` points along each side as an outline finder gives them, `noise_px` off the straight side.
  std::vector<ImagePoint> outline(Dice& dice, int n, double noise_px) const;
  /// Largest error over 11 x 11 face points of the map after the best rigid fit, mm.
  double worst_error_mm(const SheetMap& map) const;
};

/// A scene with every nuisance drawn at the size that the fit takes for likely.
SyntheticScene unkind_scene(Dice& dice, double width, double height);

}  // namespace sheetloupe
