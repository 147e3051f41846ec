#include "random_face.h"

#include <opencv2/imgproc.hpp>

#include "scene/noise.h"

namespace sheetloupe::training {
namespace {

using scene::noise1;
using scene::noise2;

// The phase a reading would give: the true one off by a few hundredths of a tow, slowly changing.
WeaveAnalysis read_weave(SceneRandom& r, const SceneSheet& scene, const SceneFace& face) {
  WeaveAnalysis weave;
  weave.found = true;
  weave.pattern = scene.pattern;
  weave.warp = Axis::from_degrees(scene.warp_deg);
  weave.weft = Axis::from_degrees(scene.weft_deg);
  weave.warp_pitch = Mm(scene.warp_pitch_mm);
  weave.weft_pitch = Mm(scene.weft_pitch_mm);
  WeavePhase phase;
  const cv::Size nodes(face.warp_count.cols / 10, face.warp_count.rows / 10);
  cv::resize(face.warp_count(cv::Rect({}, nodes * 10)), phase.warp_count, nodes, 0, 0, cv::INTER_AREA);
  cv::resize(face.weft_count(cv::Rect({}, nodes * 10)), phase.weft_count, nodes, 0, 0, cv::INTER_AREA);
  const double off = r.between(0.0, 0.08), over = r.between(8, 30);
  const double whole_s = r.between(-0.1, 0.1), whole_t = r.between(-0.1, 0.1);
  const auto seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  for (int y = 0; y < nodes.height; ++y) {
    for (int x = 0; x < nodes.width; ++x) {
      phase.warp_count.at<float>(y, x) += static_cast<float>(whole_s + off * noise2(x / over, y / over, seed));
      phase.weft_count.at<float>(y, x) += static_cast<float>(whole_t + off * noise2(x / over, y / over, seed + 1));
    }
  }
  phase.repeat = scene.pattern == WeavePattern::plain ? 2 : scene.pattern == WeavePattern::satin_5 ? 5 : 4;
  phase.warp_factor = 1;
  phase.weft_factor = scene.pattern == WeavePattern::plain ? 1 : scene.pattern == WeavePattern::satin_5 ? 2 : -1;
  weave.phase = phase;
  return weave;
}

// How far a place lies inside the cloth's ragged border, mm; all of it where the picture is cut from the middle.
cv::Mat1f cloth_depth(SceneRandom& r, cv::Size size) {
  cv::Mat1f depth(size, 99.F);
  if (r.uniform() < 0.4) return depth;
  const double ragged = r.uniform() < 0.5 ? r.between(0.1, 0.4) : r.between(0.3, 1.6);
  const auto seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  std::array<double, 4> margin;
  for (double& m : margin) m = r.uniform() < 0.6 ? r.between(1.5, 7) : -99;
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const double mx = x * 0.1, my = y * 0.1, w = size.width * 0.1, h = size.height * 0.1;
      const std::array<double, 4> from = {mx, w - mx, my, h - my};
      for (std::size_t k = 0; k < 4; ++k) {
        const double run = k < 2 ? my : mx;
        const double rough = ragged * (noise1(run / 9, seed + k) + 0.5 * noise1(run / 2.5, seed + 10 + k));
        depth(y, x) = std::min(depth(y, x), static_cast<float>(from[k] - margin[k] - rough));
      }
    }
  }
  return depth;
}

// Resin flash beyond the cloth, then the table.
void lay_surroundings(cv::Mat3f light, SceneRandom& r, const cv::Mat1f& depth, double level) {
  const double flash = r.uniform() < 0.5 ? r.between(0.3, 6) : 0.0, flash_light = level * log_between(r, 0.15, 1.2);
  const double table = level * log_between(r, 0.5, 25);
  const std::array<double, 3> tint = {r.between(0.4, 1.0), r.between(0.7, 1.0), 1.0};
  const auto seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  for (int y = 0; y < light.rows; ++y) {
    for (int x = 0; x < light.cols; ++x) {
      const double d = depth(y, x);
      if (d > 0.1) continue;
      const double rough = 1 + 0.25 * noise2(x / 4.0, y / 40.0, seed);
      const double w = std::clamp(0.5 - d / 0.2, 0.0, 1.0);
      for (int k = 0; k < 3; ++k) {
        const double beyond = d > -flash ? flash_light * (1 + 0.3 * noise2(x / 20.0, y / 20.0, seed + 1))
                                         : table * tint[static_cast<std::size_t>(k)] * rough;
        light(y, x)[k] = static_cast<float>((1 - w) * light(y, x)[k] + w * beyond);
      }
    }
  }
}

// Neighbouring seeds of the plain generator give one stream shifted by a draw: scrambled first (splitmix64 finaliser).
std::uint64_t scrambled(std::uint64_t seed) {
  std::uint64_t z = (seed + 1) * 0x9E3779B97F4A7C15ULL;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
  return z ^ (z >> 31U);
}

}  // namespace

RandomFace random_face(std::uint64_t seed) {
  SceneRandom r(scrambled(seed));
  RandomFace out;
  const SceneSheet scene = random_sheet(r, out.holes);
  SceneFace face = render_face(scene, false, random_light(r, scene), 0.1);
  cv::Mat3f light = face.light;
  const double level = std::max(2e-3, cv::mean(light)[1]);
  out.cover = cv::Mat1b(light.size(), static_cast<unsigned char>(0));
  add_dirt(light, r, level, out.cover);
  const cv::Mat1f depth = cloth_depth(r, light.size());
  lay_surroundings(light, r, depth, level);
  out.weave = read_weave(r, scene, face);
  out.labels = face.labels.clone();
  out.labels.setTo(0, depth <= 0);
  out.sheet = photographed(light, r, level);
  // The cloth's border as it is found: off by up to half a millimetre and smoother than it is.
  const double off = r.between(-0.5, 0.5);
  cv::Mat1f smooth;
  cv::GaussianBlur(cv::min(depth, 10.0), smooth, {}, r.between(3, 12));
  out.sheet.cloth.setTo(0, smooth < off);
  std::erase_if(out.holes, [&](const Hole& h) {
    const cv::Point at(cvFloor(h.at.x * 10), cvFloor(h.at.y * 10));
    return depth(at) < 0.5 * h.diameter_mm || out.cover(at) || out.labels(at) != 2;
  });
  return out;
}

}  // namespace sheetloupe::training
