// What the defect stage promises in numbers: the least pit it shows, and how many false ones a sound sheet may give.
#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "sheetloupe/defects.h"
#include "sheetloupe/scene.h"
#include "support/flat_scene.h"
#include "support/shipped_net.h"

namespace sheetloupe {
namespace {

SceneSheet sheet_number(int k) {
  SceneSheet sheet = small_sheet();
  sheet.seed = static_cast<std::uint64_t>(8200 + k);
  sheet.pattern = std::array{WeavePattern::plain, WeavePattern::twill_2x2, WeavePattern::satin_5}[k % 3];
  sheet.look.wander = 0.04;
  sheet.look.floats = 0.15;
  return sheet;
}

RectifiedSheet photo_of(const SceneSheet& sheet, int k) {
  SceneRandom random(static_cast<std::uint64_t>(8200 + k));
  return flat_scene(sheet, random_lamp(random));
}

// A dim photo: noise of ten grey levels, as fine as the photo's own blur leaves it.
void add_noise(RectifiedSheet& photo, int k) {
  cv::Mat3f noise(photo.bgr.size());
  cv::RNG random(static_cast<std::uint64_t>(k) + 1);
  random.fill(noise, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(noise, noise, {}, 0.7);
  cv::Scalar mean, spread;
  cv::meanStdDev(noise, mean, spread);
  cv::Mat light;
  photo.bgr.convertTo(light, CV_32F);
  light += noise * (10 / spread[0]);
  light.convertTo(photo.bgr, CV_8U);
}

std::size_t pits_among(const std::vector<Defect>& items) {
  std::size_t n = 0;
  for (const Defect& d : items) n += d.kind == DefectLabel::pinhole ? 1 : 0;
  return n;
}

TEST(DefectRates, PitsThirteenTenthsOfTheLeastSizeAreFoundNineteenTimesOfTwenty) {
  DefectOptions options;
  options.false_alarms_per_sheet = 0.75;
  options.pinhole_net = shipped_net("pinholes.onnx");
  const RectifiedSheet sound = photo_of(sheet_number(0), 0);
  const double least = find_defects({sound}, analyse_weave(sound), "F").smallest_pinhole_mm;
  EXPECT_GT(least, 0.2);
  int made = 0, found = 0;
  for (int k = 0; k < 6; ++k) {
    SceneSheet sheet = sheet_number(k);
    SceneRandom random(static_cast<std::uint64_t>(8300 + k));
    for (int i = 0; i < 20; ++i) {
      const SheetPoint at{8 + 11.0 * (i % 10) + random.between(-3, 3), i < 10 ? 30.0 : 70.0 + random.between(-8, 8)};
      SceneDefect pit{DefectLabel::pinhole, at, 0.65 * least, 1.0, 1};
      pit.pit.smooth = true;
      sheet.front.push_back(pit);
    }
    const RectifiedSheet photo = photo_of(sheet, k);
    const DefectAnalysis seen = find_defects({photo}, analyse_weave(photo), "F", options);
    for (const SceneDefect& pit : sheet.front) {
      ++made;
      for (const Defect& d : seen.items) {
        if (d.kind == DefectLabel::pinhole && distance_mm(d.centre, pit.at) < 0.5) {
          ++found;
          break;
        }
      }
    }
  }
  std::printf("found %d of %d pits of %.2f mm\n", found, made, 1.3 * least);
  EXPECT_GE(found, 0.95 * made);
}

// The plain decision sets its level from the tail of the sheet's own scores, so that the number of false finds follows
// the number asked for: a constant false alarm rate, as in detection theory.
TEST(DefectRates, SoundClothWithNoiseGivesAsManyFalsePitsAsAskedWithinAFactorOfTwo) {
  for (const double asked : {2.0, 8.0}) {
    DefectOptions options;
    options.false_alarms_per_sheet = asked;
    double got = 0;
    constexpr int kSheets = 9;
    for (int k = 0; k < kSheets; ++k) {
      RectifiedSheet photo = photo_of(sheet_number(20 + k), 20 + k);
      add_noise(photo, 20 + k);
      got += static_cast<double>(pits_among(find_defects({photo}, analyse_weave(photo), "F", options).items));
    }
    got /= kSheets;
    std::printf("asked %.0f false pits a sheet, got %.2f\n", asked, got);
    EXPECT_LE(got, 2 * asked);
    EXPECT_GE(got, 0.5 * asked);
  }
}

}  // namespace
}  // namespace sheetloupe
