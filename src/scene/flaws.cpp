#include "scene/flaws.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "scene/noise.h"

namespace sheetloupe::scene {
namespace {

// Ragged discs: the radius wobbles with the angle. How deep a place lies inside, mm; negative outside.
double depth_in(const SceneDefect& d, double x, double y) {
  const double dx = x - d.at.x, dy = y - d.at.y, r = std::hypot(dx, dy);
  if (r > 2.2 * d.radius_mm + 0.2) return -r;
  double radius = d.radius_mm;
  if (d.kind != DefectLabel::pinhole) {
    const double a = std::atan2(dy, dx);
    radius *= 1 + 0.25 * noise2(2 * std::cos(a) + 5, 2 * std::sin(a) + 5, d.seed) +
              0.12 * noise2(5 * std::cos(a), 5 * std::sin(a), d.seed + 1);
  }
  return radius - r;
}

// An area whose outline keeps to whole tows in part: depth of the place and of its crossing's middle.
double depth_by_tows(const SceneSheet& sheet, const SceneDefect& d, double x, double y, const Place& p) {
  const double own = depth_in(d, x, y);
  if (d.border.by_tows <= 0 || own < -4) return own;
  const double across_warp = (0.5 - (p.s - std::floor(p.s))) * sheet.warp_pitch_mm,
               across_weft = (0.5 - (p.t - std::floor(p.t))) * sheet.weft_pitch_mm;
  // Counts grow across the tows: the warp's along the weft's run and the other way round, to within the cloth's shear.
  const double mx = x + across_warp * p.weft_x - across_weft * p.warp_x,
               my = y + across_warp * p.weft_y - across_weft * p.warp_y;
  return (1 - d.border.by_tows) * own + d.border.by_tows * depth_in(d, mx, my);
}

double pit_depth(const SceneDefect& d, double x, double y) {
  if (d.pit.stretch == 1.0) return depth_in(d, x, y);
  const double dx = x - d.at.x, dy = y - d.at.y, cx = std::cos(d.pit.rim_turn), cy = std::sin(d.pit.rim_turn);
  const double u = (dx * cx + dy * cy) / std::sqrt(d.pit.stretch), v = (dy * cx - dx * cy) * std::sqrt(d.pit.stretch);
  return d.radius_mm - std::hypot(u, v);
}

void apply_pit(const SceneDefect& d, double x, double y, Flawed& out) {
  const double depth = pit_depth(d, x, y);
  if (depth < -0.5) return;
  constexpr double kHalfFade = 0.05;
  const auto cover = [&](double by) {
    return d.pit.smooth ? std::clamp(by / (2 * kHalfFade) + 0.5, 0.0, 1.0) : (by > 0 ? 1.0 : 0.0);
  };
  const double turn = std::atan2(y - d.at.y, x - d.at.x) - d.pit.rim_turn;
  const double side = 1 - d.pit.rim_one_sided * (0.5 - 0.5 * std::cos(turn));
  if (d.bright_rim) {
    const double rim = cover(depth + 0.75 * d.pit.rim_mm) * (1 - cover(depth - 0.25 * d.pit.rim_mm)) * side;
    out.value = std::max(out.value, rim * d.pit.rim_light * d.strength);
  }
  if (d.pit.rim_gain > 0) {
    const double off = (depth + 0.35 * d.pit.rim_mm) / (0.4 * d.pit.rim_mm);
    out.value *= 1 + d.pit.rim_gain * std::exp(-0.5 * off * off) * side;
  }
  const double w =
      d.strength * (d.pit.bowl > 0 ? std::clamp(depth / (d.pit.bowl * d.radius_mm), 0.0, 1.0) : cover(depth));
  out.value = out.value * (1 - w) + d.pit.floor * w;
  out.mirror *= 1 - cover(depth);
  if (depth > 0) out.label = DefectLabel::pinhole;
}

double faded(const SceneBorder& border, double depth, double own_mm) {
  return border.soft_mm > 0 ? std::clamp(depth / border.soft_mm + 0.5, 0.0, 1.0) : std::clamp(depth / own_mm, 0.0, 1.0);
}

}  // namespace

Flawed with_flaws(const SceneSheet& sheet, const std::vector<SceneDefect>& defects, const SceneLight& light, double x,
                  double y, const Place& place, const Shade& tone) {
  Flawed out{tone.wet};
  for (const SceneDefect& d : defects) {
    if (d.kind == DefectLabel::pinhole) {
      apply_pit(d, x, y, out);
      continue;
    }
    const double depth = depth_by_tows(sheet, d, x, y, place);
    if (depth <= -0.5 * d.border.soft_mm) continue;
    if (depth > 0) out.label = d.kind;
    if (d.kind == DefectLabel::dry_spot) {
      double w = d.strength * faded(d.border, depth, 0.5);
      if (d.border.patchy > 0)
        w *= 1 - d.border.patchy * std::clamp(0.5 + 1.5 * noise2(x / 1.7, y / 1.7, d.seed + 2), 0.0, 1.0);
      out.value = out.value * (1 - w) + tone.dry * w;
      out.mirror *= 1 - w * (1 - sheet.look.dry_coat);
    } else {
      const double w = d.strength * faded(d.border, depth, 0.8);
      out.value = out.value * (1 - w) + w * (0.02 + 0.01 * light.ambient);
    }
  }
  return out;
}

}  // namespace sheetloupe::scene
