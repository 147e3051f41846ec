// The woven face: tow counts from dragged coordinates, fibres shaded by their own direction, then what went wrong.
#include <algorithm>
#include <cmath>

#include "scene/noise.h"
#include "sheetloupe/scene.h"

namespace sheetloupe {
namespace {

using scene::noise1;
using scene::noise2;
using Vec = std::array<double, 3>;

double dot(const Vec& a, const Vec& b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }
Vec unit(Vec a) {
  const double n = std::sqrt(dot(a, a));
  return {a[0] / n, a[1] / n, a[2] / n};
}

bool warp_above(WeavePattern pattern, int i, int j) {
  const auto mod = [](int x, int n) { return ((x % n) + n) % n; };
  if (pattern == WeavePattern::plain) return mod(i + j, 2) == 0;
  if (pattern == WeavePattern::satin_5) return mod(i + 2 * j, 5) != 0;
  return mod(i - j, 4) < 2;
}

struct Place {
  double s, t;                            // tow counts
  double warp_x, warp_y, weft_x, weft_y;  // unit directions of the tows, sheet frame
};

// The cloth's own coordinates: the sheet point moved back by every drag.
class Cloth {
 public:
  explicit Cloth(const SceneSheet& sheet) : sheet_(sheet) {
    const double a = sheet.warp_deg * CV_PI / 180, b = sheet.weft_deg * CV_PI / 180;
    warp_ = {std::cos(a), -std::sin(a), 0};
    weft_ = {std::cos(b), -std::sin(b), 0};
  }
  Place at(double x, double y) const {
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
    const double cross = warp_[0] * weft_[1] - warp_[1] * weft_[0];
    p.s = (px * warp_[1] - py * warp_[0]) / (-sheet_.warp_pitch_mm);
    p.t = (px * weft_[1] - py * weft_[0]) / (sheet_.weft_pitch_mm);
    (void)cross;
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

 private:
  const SceneSheet& sheet_;
  Vec warp_, weft_;
};

// A fibre's highlight: Kajiya and Kay (1989), or a Gaussian in the angle to the mirror cone.
double highlight(const Vec& fibre, const SceneLight& light, const Vec& lamp, const Vec& eye) {
  const double tl = dot(fibre, lamp), tv = dot(fibre, eye);
  if (light.second_model) {
    const double off = std::asin(std::clamp(tl, -1.0, 1.0)) + std::asin(std::clamp(tv, -1.0, 1.0));
    const double width = 1.4 / std::sqrt(light.gloss);
    return std::exp(-off * off / (2 * width * width));
  }
  const double c = std::sqrt(std::max(0.0, 1 - tl * tl)) * std::sqrt(std::max(0.0, 1 - tv * tv)) - tl * tv;
  return std::pow(std::max(0.0, c), light.gloss);
}

struct Shade {
  double wet, dry;  // linear light of the same place with and without resin
};

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

Shade shade(const SceneSheet& sheet, const Place& p, double wave_x, double wave_y, const SceneLight& light,
            const Vec& lamp, const Vec& eye) {
  const SceneLook& look = sheet.look;
  const Lane warp_lane = lane_at(p.s, p.t, look.wander, sheet.seed + 71),
             weft_lane = lane_at(p.t, p.s, look.wander, sheet.seed + 72);
  const int i = warp_lane.tow, j = weft_lane.tow;
  const double u = warp_lane.within, v = weft_lane.within;
  const bool warp = warp_above(sheet.pattern, i, j);
  const double across = warp ? u : v, along = warp ? v : u, lane = warp ? p.s : p.t, run = warp ? p.t : p.s;
  const int tow = warp ? i : j;
  const double dx = warp ? p.warp_x : p.weft_x, dy = warp ? p.warp_y : p.weft_y;
  // The tow dives under its neighbours at the ends of its float.
  const auto under = [&](int step) {
    return warp ? !warp_above(sheet.pattern, i, j + step) : warp_above(sheet.pattern, i + step, j);
  };
  double slope = 0;
  if (under(1)) slope += 0.55 * look.crimp * std::pow(along, 3);
  if (under(-1)) slope -= 0.55 * look.crimp * std::pow(1 - along, 3);
  const double twist =
      0.05 * look.twist * noise1(run * 0.21, sheet.seed + 31U * static_cast<unsigned>(tow) + (warp ? 7U : 0U));
  const double fan = 0.12 * (across - 0.5);
  const Vec fibre = unit({dx - dy * (twist + fan), dy + dx * (twist + fan), -slope + dx * wave_x + dy * wave_y});
  const double fibres = 0.28 * noise2(lane * 14.0, run * 0.35, sheet.seed + (warp ? 101U : 202U)) +
                        0.18 * noise2(lane * 33.0, run * 0.8, sheet.seed + (warp ? 303U : 404U));
  const double streak = std::max(0.1, 1 + look.streaks * fibres), dry_streak = 1 + 0.25 * look.dry_streaks * fibres;
  const double tone = 1 + 0.10 * look.tones * noise1(tow * 1.7 + 0.3, sheet.seed + (warp ? 55U : 66U)) +
                      1.5 * look.wander * noise2(i * 1.9, j * 2.3, sheet.seed + 77U);
  const double edge = std::min(across, 1 - across);
  const double uneven = 1 + 5 * look.wander * noise2(lane * 1.3 + 0.5, run * 0.4, sheet.seed + (warp ? 81U : 82U));
  const double gap = 1 -
                     0.65 * std::clamp(look.gaps * uneven, 0.0, 1.45) * std::exp(-edge * edge / (2 * 0.045 * 0.045)) -
                     0.25 * look.gaps * std::exp(-std::pow(std::min(along, 1 - along), 2) / (2 * 0.06 * 0.06)) *
                         ((under(1) && along > 0.5) || (under(-1) && along < 0.5) ? 1 : 0);
  const double lit = std::sqrt(std::max(0.0, 1 - std::pow(dot(fibre, lamp), 2)));
  const double spec = highlight(fibre, light, lamp, eye);
  const double wet = gap * tone * streak * (0.012 + 0.02 * (light.ambient + 0.6 * lit) + 0.32 * spec);
  const double dry = (0.4 + 0.6 * gap) * tone * dry_streak * sheet.dry_albedo * (light.ambient + 0.9 * lit);
  return {wet, dry};
}

// Ragged discs: the radius wobbles with the angle.
double inside(const SceneDefect& d, double x, double y) {
  const double dx = x - d.at.x, dy = y - d.at.y, r = std::hypot(dx, dy);
  if (r > 2.2 * d.radius_mm) return -r;
  double radius = d.radius_mm;
  if (d.kind != DefectLabel::pinhole) {
    const double a = std::atan2(dy, dx);
    radius *= 1 + 0.25 * noise2(2 * std::cos(a) + 5, 2 * std::sin(a) + 5, d.seed) +
              0.12 * noise2(5 * std::cos(a), 5 * std::sin(a), d.seed + 1);
  }
  return radius - r;
}

}  // namespace

SceneFace render_face(const SceneSheet& sheet, bool back, const SceneLight& light, double mm_per_px) {
  const cv::Size size(cvRound(sheet.width_mm / mm_per_px), cvRound(sheet.height_mm / mm_per_px));
  SceneFace face{cv::Mat(size, CV_32FC3), cv::Mat(size, CV_8UC1, cv::Scalar(0)), cv::Mat(size, CV_32F),
                 cv::Mat(size, CV_32F)};
  SceneSheet own = sheet;
  if (back) {  // turned left to right: an axis of angle a reads 180 - a, and it is another layer of cloth
    own.warp_deg = 180 - sheet.warp_deg;
    own.weft_deg = 180 - sheet.weft_deg;
    own.seed = sheet.seed + 1000;
    for (SceneDrag& drag : own.drags) {
      drag.at.x = sheet.width_mm - drag.at.x;
      drag.by.x = -drag.by.x;
    }
  }
  const Cloth cloth(own);
  const Vec lamp = unit(light.direction), eye = {0, 0, 1};
  const auto& defects = back ? sheet.back : sheet.front;
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& range) {
    for (int r = range.start; r < range.end; ++r) {
      for (int c = 0; c < size.width; ++c) {
        const double x = (c + 0.5) * mm_per_px, y = (r + 0.5) * mm_per_px;
        const Place p = cloth.at(x, y);
        face.warp_count.at<float>(r, c) = static_cast<float>(p.s);
        face.weft_count.at<float>(r, c) = static_cast<float>(p.t);
        const double waves = own.look.waves;
        const double wave_x = waves > 0 ? waves * noise2(x / 25, y / 25, own.seed + 91) : 0.0;
        const double wave_y = waves > 0 ? waves * noise2(x / 25, y / 25, own.seed + 92) : 0.0;
        const Shade tone = shade(own, p, wave_x, wave_y, light, lamp, eye);
        double value = tone.wet;
        unsigned char label = 0;
        for (const SceneDefect& d : defects) {
          const double depth = inside(d, x, y);
          if (d.kind == DefectLabel::pinhole && d.bright_rim && depth > -0.15 && depth < 0.05)
            value = std::max(value, 0.25 * d.strength);
          if (depth <= 0) continue;
          label = static_cast<unsigned char>(d.kind);
          if (d.kind == DefectLabel::pinhole) {
            value = value * (1 - d.strength) + 0.003 * d.strength;
          } else if (d.kind == DefectLabel::dry_spot) {
            const double w = d.strength * std::min(1.0, depth / 0.5);
            value = value * (1 - w) + tone.dry * w;
          } else {
            const double w = d.strength * std::min(1.0, depth / 0.8);
            value = value * (1 - w) + w * (0.02 + 0.01 * light.ambient);
          }
        }
        face.labels.at<unsigned char>(r, c) = label;
        const double room = 0.006 + 0.004 * noise2(x / 70, y / 70, sheet.seed + 9);  // the clear coat mirrors the room
        const auto v = static_cast<float>(value + room);
        face.light.at<cv::Vec3f>(r, c) = {v * 1.03F, v, v * 0.98F};
      }
    }
  });
  return face;
}

}  // namespace sheetloupe
