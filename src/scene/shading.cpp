// Tow counts from dragged coordinates, fibres shaded by their own direction, a clear coat over them.
#include "scene/shading.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

#include "scene/noise.h"

namespace sheetloupe::scene {

double dot(const Vec& a, const Vec& b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

Vec unit(Vec a) {
  const double n = std::sqrt(dot(a, a));
  return {a[0] / n, a[1] / n, a[2] / n};
}

Cloth::Cloth(const SceneSheet& sheet) : sheet_(sheet) {
  const double a = sheet.warp_deg * CV_PI / 180, b = sheet.weft_deg * CV_PI / 180;
  warp_ = {std::cos(a), -std::sin(a), 0};
  weft_ = {std::cos(b), -std::sin(b), 0};
}

Place Cloth::at(double x, double y) const {
  double px = x, py = y, xx = 1, xy = 0, yx = 0, yy = 1;  // d(cloth)/d(sheet)
  for (const SceneDrag& drag : sheet_.drags) {
    const double dx = x - drag.at.x, dy = y - drag.at.y, r2 = drag.radius * drag.radius;
    const double g = std::exp(-(dx * dx + dy * dy) / (2 * r2));
    px -= drag.by.x * g;
    py -= drag.by.y * g;
    xx += drag.by.x * g * dx / r2;
    xy += drag.by.x * g * dy / r2;
    yx += drag.by.y * g * dx / r2;
    yy += drag.by.y * g * dy / r2;
  }
  Place p{};
  // s counts across the warp: constant along it.
  p.s = (px * warp_[1] - py * warp_[0]) / (-sheet_.warp_pitch_mm);
  p.t = (px * weft_[1] - py * weft_[0]) / (sheet_.weft_pitch_mm);
  if (sheet_.look.bunching > 0) {
    p.s += sheet_.look.bunching * noise1(p.s * 0.1, sheet_.seed + 73);
    p.t += sheet_.look.bunching * noise1(p.t * 0.1, sheet_.seed + 74);
  }
  // Directions: cloth direction pulled back through the inverse Jacobian.
  const double det = xx * yy - xy * yx;
  const auto pull = [&](const Vec& d, double& ox, double& oy) {
    ox = (yy * d[0] - xy * d[1]) / det;
    oy = (-yx * d[0] + xx * d[1]) / det;
    const double n = std::hypot(ox, oy);
    ox /= n;
    oy /= n;
  };
  pull(warp_, p.warp_x, p.warp_y);
  pull(weft_, p.weft_x, p.weft_y);
  return p;
}

namespace {

bool warp_above(const SceneSheet& sheet, int i, int j) {
  for (const SceneTowFault& f : sheet.tow_faults) {
    const int along = f.warp ? j : i;
    int& across = f.warp ? i : j;
    if (!f.missing || along < f.from || along > f.to) continue;
    if (f.closed_up && across >= f.tow) ++across;
    if (!f.closed_up && f.tow == across) return !f.warp;
  }
  const auto mod = [](int x, int n) { return ((x % n) + n) % n; };
  if (sheet.pattern == WeavePattern::plain) return mod(i + j, 2) == 0;
  if (sheet.pattern == WeavePattern::satin_5) return mod(i + 2 * j, 5) != 0;
  return mod(i - j, 4) < 2;
}

// A fibre's highlight: Kajiya and Kay (1989), or a Gaussian in the angle to the mirror cone.
double fibre_highlight(const Vec& fibre, const SceneLight& light, const Vec& lamp, const Vec& eye) {
  const double tl = dot(fibre, lamp), tv = dot(fibre, eye);
  if (light.second_model) {
    const double off = std::asin(std::clamp(tl, -1.0, 1.0)) + std::asin(std::clamp(tv, -1.0, 1.0));
    const double width = 1.4 / std::sqrt(light.gloss);
    return std::exp(-off * off / (2 * width * width));
  }
  const double c = std::sqrt(std::max(0.0, 1 - tl * tl)) * std::sqrt(std::max(0.0, 1 - tv * tv)) - tl * tv;
  return std::pow(std::max(0.0, c), light.gloss);
}

// Blinn (1977): how near the surface's normal lies to half way between lamp and eye.
double mirror_lobe(const Vec& normal, const Vec& lamp, const Vec& eye, double gloss) {
  const Vec half = unit({lamp[0] + eye[0], lamp[1] + eye[1], lamp[2] + eye[2]});
  return std::pow(std::max(0.0, dot(normal, half)), gloss);
}

// A tow's border sits a little off its count and moves along the tow: the place within the tow, 0 to 1, and which tow.
struct Lane {
  int tow;
  double within;
};
Lane lane_at(double count, double run, double wander, std::uint64_t seed) {
  const int near = static_cast<int>(std::floor(count));
  if (wander <= 0) return {near, count - near};
  const auto border = [&](int k) {
    return k + wander * (0.6 * noise1(k * 3.1, seed) + 0.6 * noise1(run * 0.12, seed + 17U * static_cast<unsigned>(k)));
  };
  int tow = near;
  if (count < border(tow)) --tow;
  if (count >= border(tow + 1)) ++tow;
  const double low = border(tow), high = border(tow + 1);
  return {tow, std::clamp((count - low) / std::max(high - low, 0.2), 0.0, 0.999)};
}

// Light left in the gaps that faulty tows leave: 1 on whole cloth.
double gap_light(const SceneSheet& sheet, const Place& p) {
  double left = 1;
  for (const SceneTowFault& f : sheet.tow_faults) {
    if (f.gap_tows <= 0) continue;
    const double count = f.warp ? p.s : p.t, run = f.warp ? p.t : p.s;
    const double half = 0.5 * f.gap_tows * (0.7 + 0.5 * noise1(run * 0.15, sheet.seed + 83));
    left = std::min(left, 0.25 + 0.75 * std::clamp((std::abs(count - f.tow) - half) / 0.08, 0.0, 1.0));
  }
  return left;
}

// Light left where tows are narrower than their spacing: little between two tows, least where four corners meet.
double hole_light(double across, double along, double fill) {
  const double open = 0.5 * (1 - fill);
  const auto cover = [&](double within) {
    return std::clamp((std::min(within, 1 - within) - open) / 0.03 + 0.5, 0.0, 1.0);
  };
  const double side = cover(across), end = cover(along);
  return (0.45 + 0.55 * side) * (side > 0.5 ? 1.0 : 0.35 + 0.65 * end);
}

// The tow on top at one place and where in it the place lies.
struct Top {
  bool warp;
  int i, j;              // tows that cross here
  double across, along;  // within the tow and along its float, 0 to 1
  double lane, run;      // counts across and along
  double dx, dy;         // direction in the face
  double slope;          // out of the face, toward +direction
  bool dives_ahead, dives_behind;
};

Top top_at(const SceneSheet& sheet, const Place& p) {
  const SceneLook& look = sheet.look;
  const Lane warp_lane = lane_at(p.s, p.t, look.wander, sheet.seed + 71),
             weft_lane = lane_at(p.t, p.s, look.wander, sheet.seed + 72);
  Top top{};
  top.i = warp_lane.tow;
  top.j = weft_lane.tow;
  top.warp = warp_above(sheet, top.i, top.j);
  const double u = warp_lane.within, v = weft_lane.within;
  top.across = top.warp ? u : v;
  top.along = top.warp ? v : u;
  top.lane = top.warp ? p.s : p.t;
  top.run = top.warp ? p.t : p.s;
  top.dx = top.warp ? p.warp_x : p.weft_x;
  top.dy = top.warp ? p.warp_y : p.weft_y;
  // The tow dives under its neighbours at the ends of its float.
  const auto under = [&](int step) {
    return top.warp ? !warp_above(sheet, top.i, top.j + step) : warp_above(sheet, top.i + step, top.j);
  };
  top.dives_ahead = under(1);
  top.dives_behind = under(-1);
  if (top.dives_ahead) top.slope += 0.55 * look.crimp * std::pow(top.along, 3);
  if (top.dives_behind) top.slope -= 0.55 * look.crimp * std::pow(1 - top.along, 3);
  return top;
}

double gap_shadow(const SceneSheet& sheet, const Top& top) {
  const SceneLook& look = sheet.look;
  const double edge = std::min(top.across, 1 - top.across), end = std::min(top.along, 1 - top.along);
  const double uneven =
      1 + 5 * look.wander * noise2(top.lane * 1.3 + 0.5, top.run * 0.4, sheet.seed + (top.warp ? 81U : 82U));
  const bool dives = (top.dives_ahead && top.along > 0.5) || (top.dives_behind && top.along < 0.5);
  return 1 - 0.65 * std::clamp(look.gaps * uneven, 0.0, 1.45) * std::exp(-edge * edge / (2 * 0.045 * 0.045)) -
         0.25 * look.gaps * std::exp(-std::pow(end, 2) / (2 * 0.06 * 0.06)) * (dives ? 1 : 0);
}

// Slope of the face itself over some 25 mm.
std::array<double, 2> waves_at(const SceneSheet& sheet, double x, double y) {
  const double waves = sheet.look.waves;
  if (waves <= 0) return {0, 0};
  return {waves * noise2(x / 25, y / 25, sheet.seed + 91), waves * noise2(x / 25, y / 25, sheet.seed + 92)};
}

}  // namespace

View view_at(const SceneSheet& sheet, const SceneLight& light, double x, double y) {
  View view{unit(light.direction), unit(light.second), {0, 0, 1}};
  if (light.lamp_mm > 0) {
    const double dx = x - sheet.width_mm / 2, dy = y - sheet.height_mm / 2;
    view.lamp =
        unit({view.lamp[0] * light.lamp_mm - dx, view.lamp[1] * light.lamp_mm - dy, view.lamp[2] * light.lamp_mm});
  }
  if (light.eye_mm > 0) view.eye = unit({light.eye_over.x - x, light.eye_over.y - y, light.eye_mm});
  return view;
}

Shade shade(const SceneSheet& sheet, const Place& p, double x, double y, const SceneLight& light, const View& view) {
  const SceneLook& look = sheet.look;
  const Top top = top_at(sheet, p);
  const std::array<double, 2> wave = waves_at(sheet, x, y);
  const int tow = top.warp ? top.i : top.j;
  const double twist =
      0.05 * look.twist * noise1(top.run * 0.21, sheet.seed + 31U * static_cast<unsigned>(tow) + (top.warp ? 7U : 0U));
  // Every float lies a little otherwise than its neighbours.
  const double own = look.floats <= 0 ? 0.0
                                      : look.floats * noise2(tow * 2.7 + 0.4, top.run * 0.5 + 0.2,
                                                             sheet.seed + (top.warp ? 78U : 79U));
  const double turn = twist + 0.12 * (top.across - 0.5) + 0.25 * own;  // tows fan out a little to their edges
  const Vec fibre =
      unit({top.dx - top.dy * turn, top.dy + top.dx * turn, -top.slope + top.dx * wave[0] + top.dy * wave[1]});
  const double fine = top.lane / look.streak_width;
  const double fibres = 0.28 * noise2(fine * 14.0, top.run * 0.35, sheet.seed + (top.warp ? 101U : 202U)) +
                        0.18 * noise2(fine * 33.0, top.run * 0.8, sheet.seed + (top.warp ? 303U : 404U));
  const double streak = std::max(0.1, 1 + look.streaks * fibres), dry_streak = 1 + 0.25 * look.dry_streaks * fibres;
  const double tone = 1 + 0.10 * look.tones * noise1(tow * 1.7 + 0.3, sheet.seed + (top.warp ? 55U : 66U)) +
                      1.5 * look.wander * noise2(top.i * 1.9, top.j * 2.3, sheet.seed + 77U) + own;
  double gap = gap_shadow(sheet, top);
  if (!sheet.tow_faults.empty()) gap *= gap_light(sheet, p);
  if (look.fill < 1) gap *= hole_light(top.across, top.along, look.fill);
  // The rounded tow's own normal: leaning outward to its edges and along its crimp.
  const double lean = look.lens * (2 * top.across - 1);
  const auto normal = [&](double share) {
    return unit({share * (-top.dy * lean + top.dx * top.slope) - wave[0],
                 share * (top.dx * lean + top.dy * top.slope) - wave[1], 1.0});
  };
  const auto wet_light = [&](const Vec& lamp) {
    const double spec = fibre_highlight(fibre, light, lamp, view.eye);
    if (light.facets <= 0) return spec;
    return (1 - light.facets) * spec + light.facets * mirror_lobe(normal(1), lamp, view.eye, light.facet_gloss);
  };
  const auto lit_by = [&](const Vec& lamp) { return std::sqrt(std::max(0.0, 1 - std::pow(dot(fibre, lamp), 2))); };
  double lit = lit_by(view.lamp), spec = wet_light(view.lamp);
  if (light.second_strength > 0) {
    lit += light.second_strength * lit_by(view.second);
    spec += light.second_strength * wet_light(view.second);
  }
  Shade out{};
  out.wet = gap * tone * streak * (0.012 + 0.02 * (light.ambient + 0.6 * lit) + 0.32 * spec);
  const double dry_gap = std::max(0.05, 1 - look.dry_gaps + look.dry_gaps * gap);
  out.dry = dry_gap * tone * dry_streak * sheet.dry_albedo * (light.ambient + 0.9 * lit);
  if (look.dry_sheen > 0) out.dry += dry_gap * tone * dry_streak * look.dry_sheen * std::pow(spec, look.dry_lobe);
  if (look.dry_fuzz > 0) out.dry *= std::max(0.1, 1 + look.dry_fuzz * noise2(x / 0.15, y / 0.15, sheet.seed + 404U));
  if (light.coat > 0) out.coat = light.coat * mirror_lobe(normal(look.relief), view.lamp, view.eye, light.coat_gloss);
  return out;
}

}  // namespace sheetloupe::scene
