// What one place of the woven face looks like, with and without resin.
#pragma once

#include <array>

#include "sheetloupe/scene.h"

namespace sheetloupe::scene {

using Vec = std::array<double, 3>;

double dot(const Vec& a, const Vec& b);
Vec unit(Vec a);

/// A place of the cloth: tow counts and the unit directions of the tows, sheet frame.
struct Place {
  double s, t;
  double warp_x, warp_y, weft_x, weft_y;
};

/// The cloth's own coordinates: the sheet point moved back by every drag.
class Cloth {
 public:
  explicit Cloth(const SceneSheet& sheet);
  Place at(double x, double y) const;

 private:
  const SceneSheet& sheet_;
  Vec warp_, weft_;
};

/// Linear light of the same place with and without resin, and what the coat mirrors on top.
struct Shade {
  double wet, dry, coat;
};

/// The lamps and the eye as one place sees them.
struct View {
  Vec lamp, second, eye;
};

View view_at(const SceneSheet& sheet, const SceneLight& light, double x, double y);
Shade shade(const SceneSheet& sheet, const Place& p, double x, double y, const SceneLight& light, const View& view);

}  // namespace sheetloupe::scene
