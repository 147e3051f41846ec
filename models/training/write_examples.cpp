// Writes training examples for the defect nets: faces of the project's own generator in many looks and lights, with
// things that are no defects, as weave-locked cues and pinhole patches beside their truth.
//   write_examples FIRST_SEED COUNT FOLDER
// One file a face, little endian: int32 rows, columns, cue planes, candidates; then cues int8 (asinh z * 26), labels
// uint8 (255 not judged), and for each candidate its truth uint8 (0 none, 1 pinhole, 2 unsure), diameter in 0.01 mm
// uint8, score float32 and patch int8 (value * 31).
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <opencv2/imgproc.hpp>
#include <string>

#include "defects/cues.h"
#include "defects/pinholes.h"
#include "scene/noise.h"
#include "sheetloupe/scene.h"

using namespace sheetloupe;

namespace {

double log_between(SceneRandom& r, double low, double high) { return low * std::pow(high / low, r.uniform()); }

struct Hole {
  SheetPoint at;
  double diameter;
};

SceneSheet random_sheet(SceneRandom& r, std::vector<Hole>& holes) {
  SceneSheet sheet;
  sheet.width_mm = r.between(80, 130);
  sheet.height_mm = r.between(70, 110);
  sheet.seed = static_cast<std::uint64_t>(r.uniform() * 1e9);
  const double kind = r.uniform();
  sheet.pattern = kind < 0.5 ? WeavePattern::twill_2x2 : kind < 0.75 ? WeavePattern::plain : WeavePattern::satin_5;
  sheet.warp_deg = r.uniform() < 0.3 ? r.between(30, 60) : r.between(-6, 6);
  sheet.weft_deg = sheet.warp_deg + 90 + r.between(-5, 5);
  sheet.warp_pitch_mm = r.between(1.4, 2.8);
  sheet.weft_pitch_mm = sheet.warp_pitch_mm * r.between(0.85, 1.18);
  for (int n = static_cast<int>(r.between(1, 4)); n > 0; --n) {
    const double radius = r.between(14, 40), most = 0.11 * radius;
    sheet.drags.push_back({{r.between(0, sheet.width_mm), r.between(0, sheet.height_mm)},
                           radius,
                           {r.between(-most, most), r.between(-most, most)}});
  }
  sheet.dry_albedo = log_between(r, 0.01, 0.25);
  SceneLook& look = sheet.look;
  for (double* value : {&look.streaks, &look.dry_streaks, &look.tones, &look.twist, &look.crimp})
    *value = log_between(r, 0.5, 1.9);
  look.gaps = r.between(0.4, 1.3);
  look.wander = r.between(0.0, 0.12);
  look.waves = r.uniform() < 0.5 ? r.between(0.0, 0.1) : 0.0;
  if (r.uniform() < 0.25) return sheet;  // sound
  const auto place = [&] { return SheetPoint{r.between(3, sheet.width_mm - 3), r.between(3, sheet.height_mm - 3)}; };
  const auto seed = [&] { return static_cast<std::uint64_t>(r.uniform() * 1e9); };
  for (int n = static_cast<int>(r.between(1, 6)); n > 0; --n)
    sheet.front.push_back({DefectLabel::dry_spot, place(), log_between(r, 1.6, 13), r.between(0.3, 1), seed()});
  if (r.uniform() < 0.5) {
    for (int n = static_cast<int>(r.between(1, 4)); n > 0; --n)
      sheet.front.push_back({DefectLabel::resin_rich, place(), log_between(r, 1.6, 10), r.between(0.5, 1), seed()});
  }
  for (int n = static_cast<int>(r.between(4, 24)); n > 0; --n) {
    SceneDefect d{DefectLabel::pinhole, place(), log_between(r, 0.15, 0.95), r.between(0.4, 1), seed()};
    d.bright_rim = r.uniform() < 0.35;
    sheet.front.push_back(d);
    holes.push_back({d.at, 2 * d.radius_mm});
  }
  return sheet;
}

SceneLight random_light(SceneRandom& r) {
  const double turn = r.between(0, 2 * CV_PI), up = r.between(0.4, 1.35);
  SceneLight light;
  light.direction = {std::cos(turn) * std::cos(up), std::sin(turn) * std::cos(up), std::sin(up)};
  light.gloss = log_between(r, 8, 90);
  light.ambient = r.between(0.15, 0.7);
  light.second_model = r.uniform() < 0.5;
  return light;
}

// White-filled pits: dust packed into a hole. Blended towards a bright grey.
void fill_white(cv::Mat3f light, SceneRandom& r, const std::vector<Hole>& holes, double level) {
  for (const Hole& h : holes) {
    if (r.uniform() > 0.2) continue;
    const double radius = 5 * h.diameter;
    const auto v = static_cast<float>(level * r.between(1.5, 6));
    cv::circle(light, cv::Point(cvRound(h.at.x * 160), cvRound(h.at.y * 160)), cvRound(radius * 0.8 * 16), {v, v, v},
               cv::FILLED, cv::LINE_8, 4);
  }
}

// Dust, fibres, scratches, a fingerprint, a pen stroke: on the sheet, no defects. Pen covers: 255 in `cover`.
void add_dirt(cv::Mat3f light, SceneRandom& r, double level, cv::Mat1b cover) {
  const auto place = [&] { return cv::Point2d(r.between(0, light.cols), r.between(0, light.rows)); };
  const auto grey = [&](double value) { return cv::Scalar(value, value, value); };
  for (int n = static_cast<int>(r.between(0, 25)); n > 0; --n) {
    const double v = level * (r.uniform() < 0.85 ? log_between(r, 1.4, 8) : 0.4);
    const cv::Point2d p = place() * 16;
    cv::ellipse(light, cv::Point(p), cv::Size(cvRound(r.between(0.4, 2.5) * 16), cvRound(r.between(0.4, 2.5) * 16)),
                r.between(0, 180), 0, 360, grey(v), cv::FILLED, cv::LINE_8, 4);
  }
  for (int n = static_cast<int>(r.between(0, 4)); n > 0; --n) {  // scratches, hairs
    cv::Point2d p = place();
    double turn = r.between(0, 6.3);
    const double bend = r.uniform() < 0.5 ? 0.0 : 0.12;
    const double v = level * (r.uniform() < 0.7 ? log_between(r, 1.3, 4) : 0.3);
    for (int step = static_cast<int>(r.between(10, 60)); step > 0; --step) {
      const cv::Point2d q = p + 5.0 * cv::Point2d(std::cos(turn), std::sin(turn));
      cv::line(light, p, q, grey(v), 1);
      p = q;
      turn += bend * r.normal();
    }
  }
  if (r.uniform() < 0.4) {  // fingerprint: ridged haze
    const cv::Point2d middle = place();
    const double strength = level * r.between(0.1, 0.7), pitch = r.between(4, 6);
    const cv::Rect box =
        cv::Rect(cvRound(middle.x) - 90, cvRound(middle.y) - 110, 180, 220) & cv::Rect({}, light.size());
    for (int y = box.y; y < box.y + box.height; ++y) {
      for (int x = box.x; x < box.x + box.width; ++x) {
        const double dx = (x - middle.x) / 85, dy = (y - middle.y) / 105, d = dx * dx + dy * dy;
        if (d > 1) continue;
        const double ridge =
            0.5 + 0.5 * std::sin(2 * CV_PI * std::hypot(x - middle.x + 40, 0.7 * (y - middle.y)) / pitch);
        const auto v = static_cast<float>(strength * (1 - d) * ridge);
        light(y, x) += cv::Vec3f(v, v, v);
      }
    }
  }
  if (r.uniform() < 0.25) {  // pen
    cv::Point2d p = place();
    double turn = r.between(0, 6.3);
    const double v = level * r.between(3, 9);
    const bool coloured = r.uniform() < 0.5;
    for (int step = 40; step > 0; --step) {
      const cv::Point2d q = p + 6.0 * cv::Point2d(std::cos(turn), std::sin(turn));
      cv::line(light, p, q, coloured ? cv::Scalar(v, v * 0.5, v * 0.2) : grey(v), 6);
      cv::line(cover, p, q, cv::Scalar(255), 12);
      p = q;
      turn += 0.2 * r.normal();
    }
  }
}

// The light changes over the sheet: a slope, a lamp's haze, and the camera's own curve, blur, noise and sharpening.
RectifiedSheet take(cv::Mat3f light, SceneRandom& r, double level) {
  const double shrink = r.between(0.6, 1.0);  // photo px per 0.1 mm
  const double gx = r.between(-0.5, 0.5), gy = r.between(-0.5, 0.5), haze = r.uniform() < 0.4 ? r.between(0, 4) : 0.0;
  const cv::Point2d lamp(r.between(0, light.cols), r.between(0, light.rows));
  const double spread = r.between(100, 350);
  for (int y = 0; y < light.rows; ++y) {
    for (int x = 0; x < light.cols; ++x) {
      const double slope = std::exp(gx * (x / double(light.cols) - 0.5) + gy * (y / double(light.rows) - 0.5));
      const double d2 = (std::pow(x - lamp.x, 2) + std::pow(y - lamp.y, 2)) / (spread * spread);
      const auto add = static_cast<float>(level * haze * std::exp(-d2 / 2));
      light(y, x) = light(y, x) * static_cast<float>(slope) + cv::Vec3f(add, add, add);
    }
  }
  cv::Mat3f small;
  cv::GaussianBlur(light, light, {}, r.between(0.5, 1.2));
  cv::resize(light, small, {}, shrink, shrink, cv::INTER_AREA);
  const double exposure = r.between(0.02, 0.12) / level, gamma = r.between(1.9, 2.4), noise = r.between(0.5, 2.5);
  for (cv::Vec3f& p : small) {
    for (int k = 0; k < 3; ++k)
      p[k] = static_cast<float>(255 * std::pow(std::max(0.0, exposure * p[k]), 1 / gamma) + noise * r.normal());
  }
  if (r.uniform() < 0.6) {
    cv::Mat3f soft;
    cv::GaussianBlur(small, soft, {}, 1.0);
    small += r.between(0.2, 0.8) * (small - soft);
  }
  cv::Mat3b eight;
  small.convertTo(eight, CV_8UC3);
  RectifiedSheet sheet;
  cv::resize(eight, sheet.bgr, light.size(), 0, 0, cv::INTER_LINEAR);
  sheet.cloth = cv::Mat(light.size(), CV_8UC1, cv::Scalar(255));
  cv::inRange(sheet.bgr, cv::Scalar(250, 250, 250), cv::Scalar(255, 255, 255), sheet.glare);
  cv::dilate(sheet.glare, sheet.glare, cv::Mat::ones(7, 7, CV_8U));
  sheet.mm_per_px = 0.1;
  sheet.photo_mm_per_px = 0.1 / shrink;
  sheet.blur_sigma_px = 0.9;
  return sheet;
}

WeaveAnalysis true_weave(const SceneSheet& scene, const SceneFace& face) {
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
  phase.repeat = scene.pattern == WeavePattern::plain ? 2 : scene.pattern == WeavePattern::satin_5 ? 5 : 4;
  phase.warp_factor = 1;
  phase.weft_factor = scene.pattern == WeavePattern::plain ? 1 : scene.pattern == WeavePattern::satin_5 ? 2 : -1;
  weave.phase = phase;
  return weave;
}

template <class T>
void put(std::ofstream& out, T value) {
  out.write(reinterpret_cast<const char*>(&value), sizeof value);
}

void write_face(std::uint64_t seed, const std::string& folder) {
  SceneRandom r(seed);
  std::vector<Hole> holes;
  const SceneSheet scene = random_sheet(r, holes);
  SceneFace face = render_face(scene, false, random_light(r), 0.1);
  cv::Mat3f light = face.light;
  const double level = std::max(1e-3, cv::mean(light)[1]);
  cv::Mat1b cover(light.size(), static_cast<unsigned char>(0));
  fill_white(light, r, holes, level);
  add_dirt(light, r, level, cover);
  const RectifiedSheet sheet = take(light, r, level);
  const defects::Locked locked = defects::lock(sheet, true_weave(scene, face));
  const defects::Cues cues = defects::measure_cues(sheet, locked);
  const cv::Size grid = cues.judged.size();
  std::ofstream out(folder + "/" + std::to_string(seed) + ".bin", std::ios::binary);
  const auto finds = defects::pinhole_candidates(locked, 0.1, scene.warp_deg, scene.weft_deg, 3.0, 700);
  for (const int n : {grid.height, grid.width, static_cast<int>(defects::kCueCount), static_cast<int>(finds.size())})
    put(out, n);
  for (const cv::Mat1f& z : cues.z) {
    for (const float v : z) put(out, static_cast<signed char>(cvRound(std::clamp(std::asinh(v), -4.8F, 4.8F) * 26)));
  }
  const int block = cvRound(cues.mm_per_node / 0.1);
  for (int y = 0; y < grid.height; ++y) {
    for (int x = 0; x < grid.width; ++x) {
      const cv::Rect cell(x * block, y * block, block, block);
      unsigned char label = 0;
      for (const int kind : {1, 3}) {
        if (2 * cv::countNonZero(face.labels(cell) == kind) > block * block) label = static_cast<unsigned char>(kind);
      }
      if (cues.judged(y, x) < 0.5F || cv::countNonZero(cover(cell))) label = 255;
      put(out, label);
    }
  }
  for (const defects::PinholeFind& find : finds) {
    const SheetPoint at = sheet.sheet_from_pixel(find.at.x, find.at.y);
    unsigned char truth = 0;
    double diameter = 0;
    for (const Hole& h : holes) {
      const double d = distance_mm(at, h.at);
      if (d < 0.5 * h.diameter + 0.1)
        truth = 1, diameter = h.diameter;
      else if (d < 0.5 * h.diameter + 0.6 && truth == 0)
        truth = 2;
    }
    const unsigned char kind = face.labels.at<unsigned char>(find.at);
    if (truth == 0 && (kind == 1 || kind == 3)) truth = 2;
    if (cover(find.at)) truth = 2;
    put(out, truth);
    put(out, static_cast<unsigned char>(std::min(255.0, 100 * diameter)));
    put(out, static_cast<float>(find.score));
    for (const float v : defects::pinhole_patch(locked, 0.1, find.at))
      put(out, static_cast<signed char>(cvRound(v * 31)));
  }
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 4) {
    std::fprintf(stderr, "write_examples FIRST_SEED COUNT FOLDER\n");
    return 2;
  }
  cv::setNumThreads(1);
  const std::uint64_t first = std::stoull(arguments[1]), faces = std::stoull(arguments[2]);
  for (std::uint64_t seed = first; seed < first + faces; ++seed) write_face(seed, arguments[3]);
  return 0;
}
