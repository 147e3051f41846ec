// Pits and dry spots of medium contrast beside four general ways of picture processing, on the same faces in one run.
// The general ways are helped: each takes the one threshold, and for areas the one sign, that suits all faces best.
#include <gtest/gtest.h>

#include <algorithm>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/defects.h"
#include "sheetloupe/scene.h"
#include "support/flat_scene.h"
#include "support/shipped_net.h"

namespace sheetloupe {
namespace {

constexpr double kPx = 0.1;  // mm

struct Face {
  SceneSheet scene;
  RectifiedSheet flat;
  cv::Mat1b dry;  // truth
  cv::Mat1f log_light;
};

Face face_number(int k) {
  SceneRandom random(static_cast<std::uint64_t>(7100 + k));
  Face face;
  face.scene = small_sheet();
  face.scene.pattern = std::array{WeavePattern::plain, WeavePattern::twill_2x2, WeavePattern::satin_5}[k % 3];
  face.scene.seed = static_cast<std::uint64_t>(7100 + k);
  face.scene.look.floats = 0.2;
  face.scene.look.wander = 0.05;
  face.scene.dry_albedo = 0.06;
  for (int i = 0; i < 10; ++i) {
    const SheetPoint at{10.0 + 11 * i, random.between(12, 48)};
    face.scene.front.push_back({DefectLabel::pinhole, at, random.between(0.25, 0.45), 0.7, 1});
    face.scene.front.back().pit.smooth = true;
  }
  for (const double x : {30.0, 85.0})
    face.scene.front.push_back(
        {DefectLabel::dry_spot, {x, 75.0}, random.between(4, 6), 0.6, static_cast<std::uint64_t>(k) * 2 + 9});
  const SceneLight light = random_lamp(random);
  face.flat = flat_scene(face.scene, light, kPx);
  const cv::Mat labels = render_face(face.scene, false, light, kPx).labels;
  face.dry = labels == static_cast<int>(DefectLabel::dry_spot);
  cv::Mat grey;
  cv::cvtColor(face.flat.bgr, grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(face.log_light, CV_32F, 1.0, 8.0);
  cv::log(face.log_light, face.log_light);
  return face;
}

// Each way gives a picture in which a flaw is high (a pit: dark); `wide`: px, some times the flaw's own width.
cv::Mat1f darkness(const cv::Mat1f& light, int) { return -light; }

cv::Mat1f local_z_score(const cv::Mat1f& light, int wide) {
  cv::Mat1f mean, square;
  cv::GaussianBlur(light, mean, {}, wide);
  cv::GaussianBlur(light.mul(light), square, {}, wide);
  cv::Mat1f spread = square - mean.mul(mean);
  cv::sqrt(cv::max(spread, 1e-6), spread);
  return (mean - light) / spread;
}

cv::Mat1f below_the_median(const cv::Mat1f& light, int wide) {
  cv::Mat1b eight, median;
  light.convertTo(eight, CV_8U, 45);
  cv::medianBlur(eight, median, 2 * wide + 1);
  cv::Mat1f back;
  median.convertTo(back, CV_32F, 1 / 45.0);
  return back - light;
}

// The weave's sharp peaks taken out of the spectrum: bins four times above their surroundings, the slowest kept.
cv::Mat1f without_fourier_peaks(const cv::Mat1f& light, int) {
  cv::Mat spectrum, planes[2];
  cv::dft(light - cv::mean(light)[0], spectrum, cv::DFT_COMPLEX_OUTPUT);
  cv::split(spectrum, planes);
  cv::Mat1f size, around;
  cv::magnitude(planes[0], planes[1], size);
  cv::blur(size, around, {31, 31}, {-1, -1}, cv::BORDER_REFLECT);
  cv::Mat1b peaks = size > 4 * around;
  cv::dilate(peaks, peaks, cv::Mat());
  for (const int r : {0, size.rows - 5}) peaks(cv::Rect(0, r, 5, 5)).setTo(0);
  for (cv::Mat& plane : planes) plane.setTo(0, peaks);
  cv::merge(planes, 2, spectrum);
  cv::Mat1f rest;
  cv::dft(spectrum, rest, cv::DFT_INVERSE | cv::DFT_REAL_OUTPUT | cv::DFT_SCALE);
  return -rest;
}

struct Count {
  int right = 0, said = 0, asked = 0;
  double f1() const { return said + asked > 0 ? 2.0 * right / (said + asked) : 0.0; }
};

struct Point {
  SheetPoint at;
  double score;
};

void count_pits(const Face& face, const std::vector<Point>& said, double least, Count& count) {
  std::vector<bool> used(said.size(), false);
  for (const SceneDefect& pit : face.scene.front) {
    if (pit.kind != DefectLabel::pinhole) continue;
    ++count.asked;
    bool found = false;
    for (std::size_t i = 0; i < said.size(); ++i) {
      if (said[i].score < least || distance_mm(said[i].at, pit.at) > std::max(0.5, pit.radius_mm + 0.2)) continue;
      found = used[i] = true;
    }
    count.right += found ? 1 : 0;
  }
  for (std::size_t i = 0; i < said.size(); ++i) {
    const cv::Point pixel(static_cast<int>(said[i].at.x / kPx), static_cast<int>(said[i].at.y / kPx));
    const bool in_dry = cv::Rect({}, face.dry.size()).contains(pixel) && face.dry(pixel);
    if (said[i].score >= least && !in_dry && !used[i]) ++count.said;
  }
  for (const bool one : used) count.said += one ? 1 : 0;
}

// A true spot is found when one said region covers it with an overlap (IoU) of one half.
void count_dry(const Face& face, const cv::Mat1b& said, Count& count) {
  cv::Mat1i truth, regions, stats;
  cv::Mat centres;
  const int spots = cv::connectedComponents(face.dry, truth, 8);
  const int n = cv::connectedComponentsWithStats(said, regions, stats, centres, 8);
  for (int k = 1; k < n; ++k) count.said += stats(k, cv::CC_STAT_AREA) * kPx * kPx >= 1.5 ? 1 : 0;
  std::vector<int> size(static_cast<std::size_t>(spots)), both(static_cast<std::size_t>(spots) * n);
  for (int r = 0; r < truth.rows; ++r) {
    for (int c = 0; c < truth.cols; ++c) {
      ++size[truth(r, c)];
      ++both[truth(r, c) * n + regions(r, c)];
    }
  }
  for (int s = 1; s < spots; ++s) {
    ++count.asked;
    for (int k = 1; k < n; ++k) {
      const int shared = both[s * n + k];
      if (2 * shared < size[s] + stats(k, cv::CC_STAT_AREA) - shared) continue;
      ++count.right;
      break;
    }
  }
}

std::vector<Point> peaks_of(const cv::Mat1f& score) {
  cv::Mat1f soft, highest;
  cv::GaussianBlur(score, soft, {}, 1.2);
  cv::dilate(soft, highest, cv::getStructuringElement(cv::MORPH_ELLIPSE, {9, 9}));
  std::vector<Point> list;
  for (int r = 12; r + 12 < soft.rows; ++r) {
    for (int c = 12; c + 12 < soft.cols; ++c) {
      if (soft(r, c) >= highest(r, c)) list.push_back({{(c + 0.5) * kPx, (r + 0.5) * kPx}, soft(r, c)});
    }
  }
  std::sort(list.begin(), list.end(), [](const Point& a, const Point& b) { return a.score > b.score; });
  list.resize(std::min<std::size_t>(list.size(), 400));
  return list;
}

using Way = cv::Mat1f (*)(const cv::Mat1f&, int);
constexpr int kPitWindow = 15, kSpotWindow = 120;  // px

double best_f1_of_pits(const std::vector<Face>& faces, Way way) {
  std::vector<std::vector<Point>> said;
  std::vector<double> levels;
  for (const Face& face : faces) {
    said.push_back(peaks_of(way(face.log_light, kPitWindow)));
    for (const Point& p : said.back()) levels.push_back(p.score);
  }
  double best = 0;
  for (std::size_t i = 0; i < levels.size(); i += 5) {
    Count count;
    for (std::size_t k = 0; k < faces.size(); ++k) count_pits(faces[k], said[k], levels[i], count);
    best = std::max(best, count.f1());
  }
  return best;
}

double best_f1_of_dry(const std::vector<Face>& faces, Way way) {
  std::vector<cv::Mat1f> soft;
  for (const Face& face : faces) {
    soft.emplace_back();
    cv::GaussianBlur(way(face.log_light, kSpotWindow), soft.back(), {}, 25);  // over the weave
  }
  double best = 0;
  for (const double share : {0.9, 0.93, 0.95, 0.96, 0.97, 0.98, 0.985, 0.99, 0.995}) {
    for (const bool bright : {false, true}) {
      std::vector<float> all;
      for (const cv::Mat1f& s : soft) {
        for (int r = 0; r < s.rows; r += 7) {
          for (int c = 0; c < s.cols; c += 7) all.push_back(bright ? -s(r, c) : s(r, c));
        }
      }
      const auto at = all.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(all.size()));
      std::nth_element(all.begin(), at, all.end());
      Count count;
      for (std::size_t k = 0; k < faces.size(); ++k)
        count_dry(faces[k], bright ? cv::Mat1b(-soft[k] > *at) : cv::Mat1b(soft[k] > *at), count);
      best = std::max(best, count.f1());
    }
  }
  return best;
}

TEST(DefectsBesideGeneralWays, TwiceTheBestOfThemAtMediumContrast) {
  std::vector<Face> faces;
  for (int k = 0; k < 6; ++k) faces.push_back(face_number(k));
  DefectOptions options;
  options.false_alarms_per_sheet = 0.75;
  options.pinhole_net = shipped_net("pinholes.onnx");
  options.area_net = shipped_net("areas.onnx");
  Count pits, dry;
  for (const Face& face : faces) {
    const DefectAnalysis found = find_defects({face.flat}, analyse_weave(face.flat), "F", options);
    ASSERT_TRUE(found.judged) << found.reason;
    std::vector<Point> said;
    for (const Defect& d : found.items) {
      if (d.kind == DefectLabel::pinhole) said.push_back({d.centre, 1});
    }
    count_pits(face, said, 0, pits);
    count_dry(face, found.labels == static_cast<int>(DefectLabel::dry_spot), dry);
  }
  double best_pits = 0, best_dry = 0;
  std::printf("F1 of pits, of dry spots\n  the stage        %.2f  %.2f\n", pits.f1(), dry.f1());
  for (const auto& [name, way] : {std::pair<const char*, Way>{"darkness", darkness},
                                  {"local z-score", local_z_score},
                                  {"below median", below_the_median},
                                  {"Fourier peaks", without_fourier_peaks}}) {
    const double p = best_f1_of_pits(faces, way), d = best_f1_of_dry(faces, way);
    std::printf("  %-15s  %.2f  %.2f\n", name, p, d);
    best_pits = std::max(best_pits, p);
    best_dry = std::max(best_dry, d);
  }
  EXPECT_GE(pits.f1(), 2 * best_pits);
  EXPECT_GE(dry.f1(), 2 * best_dry);
}

}  // namespace
}  // namespace sheetloupe
