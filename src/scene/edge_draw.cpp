// Draws what a cut edge may look like: counts, cloths, light, grounds and accidents of the saw.
#include <algorithm>
#include <cmath>

#include "sheetloupe/scene.h"
#include "sheetloupe/scene_edge.h"

namespace sheetloupe {
namespace {

double log_between(SceneRandom& random, double low, double high) {
  return std::exp(random.between(std::log(low), std::log(high)));
}

int whole(SceneRandom& random, int low, int high) {
  return low + std::min(high - low, static_cast<int>(random.uniform() * (high - low + 1)));
}

void draw_size(EdgeScene& s, SceneRandom& random, double least_ply_px, double most_ply_px) {
  s.plies = random.uniform() < 0.85 ? whole(random, 3, 16) : whole(random, 17, 24);
  s.ply_px = log_between(random, least_ply_px, most_ply_px);
  // Very many thick plies would not fit a small picture; the widest scenes stay below 1200 px of height.
  s.ply_px = std::max(least_ply_px, std::min(s.ply_px, 760.0 / s.plies));
  const double band = s.plies * s.ply_px;
  const int width = whole(random, 1100, 1800);
  s.size = {width, std::clamp(static_cast<int>(band * random.between(1.5, 2.4)) + 200, 500, 1400)};
  // Tow pitch over ply thickness, from cloths of 93 to 650 g/m2 at fibre shares of 0.3 to 0.55: 4 to 12.
  s.pitch_px = std::min(s.ply_px * log_between(random, 3.2, 10.0), width / 7.0);
  const double kind = random.uniform();
  s.weave = kind < 0.68 ? WeavePattern::twill_2x2 : kind < 0.86 ? WeavePattern::plain : WeavePattern::satin_5;
}

void draw_shape(EdgeScene& s, SceneRandom& random, EdgeLevel level) {
  const double rough = level == EdgeLevel::easy ? 0.6 : level == EdgeLevel::medium ? 1.0 : 1.5;
  s.gap_cv = random.between(0.02, 0.07) * rough;
  s.waviness = random.between(0.03, 0.09) * rough;
  s.nesting = random.between(0, 0.9);
  s.cut_angle = random.uniform() < 0.5 ? 0 : random.between(-0.05, 0.05);
  s.taper = random.uniform() < 0.5 ? random.between(-0.03, 0.03) : random.between(-0.15, 0.15);
  s.bow_px = random.between(-4, 4);
  s.tilt_deg = random.uniform() < 0.7 ? random.between(-4, 4) : random.between(-9, 9);
  const double room =
      0.5 -
      0.5 * (s.plies * s.ply_px + s.size.width * std::abs(std::sin(s.tilt_deg * CV_PI / 180)) + 60) / s.size.height;
  s.centre = 0.5 + std::max(0.0, 0.8 * room) * random.between(-1, 1);
  s.one_end = random.uniform() < 0.3 ? (random.uniform() < 0.5 ? -1 : 1) * random.between(0.75, 0.95) : 0;
  s.face_rough_px = random.between(0.3, 1.6);
}

void draw_look(EdgeScene& s, SceneRandom& random, EdgeLevel level) {
  const double low = level == EdgeLevel::easy ? 0.3 : level == EdgeLevel::medium ? 0.14 : 0.04;
  const double high = level == EdgeLevel::easy ? 0.6 : level == EdgeLevel::medium ? 0.3 : 0.14;
  const double contrast = random.between(low, high);
  s.resin = random.uniform() < 0.5 ? 1 - contrast : 1 / (1 - contrast);
  s.resin_width = log_between(random, 0.04, 0.16);
  s.resin_gone = random.between(0, level == EdgeLevel::hard ? 0.5 : 0.25);
  const double most = level == EdgeLevel::hard ? 1.45 : 1.8, ratio = log_between(random, 1.03, most);
  s.tow_end = random.uniform() < 0.5 ? ratio : 1 / ratio;
  s.grain = random.between(0.05, 0.3);
  s.streak = random.between(0.04, 0.2) * (level == EdgeLevel::hard ? 1.3 : 1);
  s.tone = random.between(0.02, 0.12);
  s.light = log_between(random, 0.05, 0.26);
  const double warm = random.between(-0.18, 0.18);
  s.tint = {1 - warm, 1.0, 1 + warm};
  const double ground = random.uniform();
  s.ground = ground < 0.3    ? EdgeGround::white
             : ground < 0.55 ? EdgeGround::grey
             : ground < 0.72 ? EdgeGround::dark
             : ground < 0.88 ? EdgeGround::wood
                             : EdgeGround::blue;
  s.shadow = random.between(0, 0.7);
  if (random.uniform() < 0.3) {
    s.face_px = std::max(3.0, s.ply_px * log_between(random, 0.35, 2.2));
    s.face_light = log_between(random, 0.5, 1.9);
    s.face_rim = random.uniform() < 0.4;
    s.face_below = random.uniform() < 0.1;
  }
}

void draw_accidents(EdgeScene& s, SceneRandom& random, EdgeLevel level) {
  const double saw = random.uniform();
  s.saw = saw < 0.35 ? 0 : saw < 0.6 ? 1 : saw < 0.85 ? 2 : 3;
  s.saw_depth = random.between(0.03, 0.14);
  const auto some = [&](std::vector<EdgeBlot>& list, int most, double length, double height) {
    const int count = whole(random, 0, most);
    for (int i = 0; i < count; ++i)
      list.push_back(
          {random.uniform(), random.uniform(), length * random.between(0.4, 1.6), height * random.between(0.5, 1.5)});
  };
  some(s.voids, 3, 0.5 * s.ply_px, 0.16 * s.ply_px);
  some(s.chips, 4, 0.8 * s.ply_px, 0.15 * s.ply_px);
  some(s.smears, level == EdgeLevel::easy ? 1 : 2, 0.1 * s.size.width, 0.35 * s.plies * s.ply_px);
  if (random.uniform() < 0.2) {
    const double from = random.between(0.1, 0.6);
    s.cracks.push_back(
        {whole(random, 1, s.plies - 1), from, from + random.between(0.1, 0.3), s.ply_px * random.between(0.06, 0.2)});
  }
}

}  // namespace

EdgeScene random_edge_scene(EdgeLevel level, double least_ply_px, double most_ply_px, std::uint64_t seed) {
  SceneRandom random(seed);
  EdgeScene s;
  s.seed = seed;
  draw_size(s, random, least_ply_px, most_ply_px);
  draw_shape(s, random, level);
  draw_look(s, random, level);
  draw_accidents(s, random, level);
  s.blur_px = random.between(0.5, 1.3);
  s.motion_px = random.uniform() < 0.2 ? random.between(0.5, 2.5) : 0;
  const double noisy = level == EdgeLevel::easy ? 1 : level == EdgeLevel::medium ? 1.5 : 2.2;
  s.noise = noisy * random.between(0.8, 2.2);
  s.sharpen = random.between(0, 0.7);
  s.vignette = random.between(0, 0.35);
  s.exposure = random.between(0.75, 1.15);
  return s;
}

}  // namespace sheetloupe
