#include "sheetloupe/scale.h"

#include <gtest/gtest.h>

#include <cmath>

#include "support/synthetic_strips.h"

namespace sheetloupe {
namespace {

LengthStandards with_exact_print(LengthStandards s) {
  s.strip_length_mm = Measured{250.0, 0.3};
  return s;
}

Scale fitted(const SyntheticScene& scene, std::uint64_t seed = 1, std::vector<int> strips = {0, 1, 2, 3}) {
  Dice dice(seed);
  ScaleInput input = scene.input(dice, std::move(strips));
  input.standards = with_exact_print(input.standards);
  return fit_scale(input);
}

bool advises(const Scale& scale, const std::string& words) {
  for (const std::string& sentence : scale.advice) {
    if (sentence.find(words) != std::string::npos) return true;
  }
  return false;
}

TEST(Scale, NothingInThePictureGivesNoScaleAndSaysWhatToLay) {
  ScaleInput input;
  input.image_size = {4000, 3000};
  const Scale scale = fit_scale(input);
  EXPECT_EQ(scale.source, ScaleSource::none);
  EXPECT_EQ(scale.map, nullptr);
  EXPECT_NE(scale.reason.find("Lay the strips"), std::string::npos);
}

TEST(Scale, OneMarkerIsTooLittle) {
  Dice dice(1);
  ScaleInput input = SyntheticScene{}.input(dice);
  input.markers.resize(1);
  const Scale scale = fit_scale(input);
  EXPECT_EQ(scale.source, ScaleSource::none);
  EXPECT_NE(scale.reason.find("1 of 20"), std::string::npos);
}

TEST(Scale, OneStripAloneMeasuresButSaysHowPoorly) {
  Dice dice(11);
  SyntheticScene scene = unkind_scene(dice, 150, 110);
  scene.table_bow_mm = 0.0;
  const Scale one = fitted(scene, 1, {0}), four = fitted(scene, 1);
  ASSERT_NE(one.map, nullptr);
  EXPECT_LE(scene.worst_error_mm(*one.map), one.position_u95_mm);
  EXPECT_GT(one.position_u95_mm, 1.5 * four.position_u95_mm);
  EXPECT_TRUE(advises(one, "Only one strip"));
}

TEST(Scale, OneMarkerOfEachStripDoesNotPlaceAnything) {
  Dice dice(1);
  ScaleInput input = SyntheticScene{}.input(dice);
  std::vector<Marker> lone;
  for (const Marker& m : input.markers) {
    if (m.id % 5 == 2) lone.push_back(m);
  }
  input.markers = lone;
  EXPECT_EQ(fit_scale(input).source, ScaleSource::none);
}

// Tolerance: the fit's prior means of bow and height (0.2 and 0.08 mm) are wrong for perfectly flat strips.
TEST(Scale, PerfectStripsGiveTheFaceToAFewHundredths) {
  for (const double tilt : {0.0, 10.0, 25.0}) {
    SyntheticScene scene;
    scene.tilt_deg = tilt;
    const Scale scale = fitted(scene);
    ASSERT_NE(scale.map, nullptr) << scale.reason;
    EXPECT_EQ(scale.source, ScaleSource::strips);
    EXPECT_LT(scene.worst_error_mm(*scale.map), 0.10) << tilt;
    EXPECT_LE(scale.position_u95_mm, 0.6);
    EXPECT_TRUE(scale.flagged_strips.empty());
  }
}

TEST(Scale, TheFrameStartsAtTheFirstCornerAndRunsToTheSecond) {
  SyntheticScene scene;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  const Scale scale = fit_scale(input);
  ASSERT_NE(scale.map, nullptr);
  const SheetPoint a = scale.map->sheet_from_image((*input.corners_px)[0]);
  const SheetPoint b = scale.map->sheet_from_image((*input.corners_px)[1]);
  const SheetPoint d = scale.map->sheet_from_image((*input.corners_px)[3]);
  EXPECT_NEAR(a.x, 0, 1e-6);
  EXPECT_NEAR(a.y, 0, 1e-6);
  EXPECT_NEAR(b.y, 0, 1e-6);
  EXPECT_NEAR(b.x, scene.width, 0.2);
  EXPECT_NEAR(d.y, scene.height, 0.2);
}

TEST(Scale, ThereAndBackIsTheSamePixel) {
  Dice dice(4);
  const SyntheticScene scene = unkind_scene(dice, 240, 180);
  const Scale scale = fitted(scene);
  ASSERT_NE(scale.map, nullptr);
  for (double x = 200; x < 4000; x += 400) {
    for (double y = 200; y < 3000; y += 400) {
      const ImagePoint back = scale.map->image_from_sheet(scale.map->sheet_from_image({x, y}));
      EXPECT_NEAR(back.x, x, 1e-5);
      EXPECT_NEAR(back.y, y, 1e-5);
    }
  }
}

// A point of the face lies nearer to the camera than the table by t / H, so the face's shape is the table map's times
// (1 - t / H), exactly, whatever the tilt (similar triangles).
TEST(Scale, ThicknessShrinksTheTablesMapByItsShareOfTheCamerasHeight) {
  SyntheticScene scene;
  scene.tilt_deg = 12.0;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  const auto side = [&](double thickness) {
    input.standards.thickness_mm = Measured{thickness, 0.1};
    const Scale scale = fit_scale(input);
    const auto a = scale.map->sheet_from_image((*input.corners_px)[0]);
    const auto b = scale.map->sheet_from_image((*input.corners_px)[1]);
    return distance_mm(a, b);
  };
  const double height = scene.distance_mm * std::cos(12.0 * std::acos(-1.0) / 180.0);
  EXPECT_NEAR(side(6.0) / side(0.0), 1 - 6.0 / height, 2e-4);
}

TEST(Scale, TheFootOfTheSideWallIsSeenWhereItLies) {
  SyntheticScene scene;
  scene.tilt_deg = 20.0;
  const Scale scale = fitted(scene);
  ASSERT_NE(scale.map, nullptr);
  const auto corner = scene.sheet_corners()[2];
  const ImagePoint truth = scene.seen(corner.x, corner.y, 0.0);
  const ImagePoint foot = scale.map->image_from_sheet_below(
      scale.map->sheet_from_image(scene.seen(corner.x, corner.y, scene.thickness)), Mm(scene.thickness));
  EXPECT_LT(distance_px(foot, truth), 1.0);
}

TEST(Scale, WithoutCornersTheMapStillMeasuresInAFrameOfItsOwn) {
  SyntheticScene scene;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  input.corners_px.reset();
  const Scale scale = fit_scale(input);
  ASSERT_NE(scale.map, nullptr);
  EXPECT_LT(scene.worst_error_mm(*scale.map), 0.10);
}

TEST(Scale, APhotoTurnedByAQuarterMeasuresTheSame) {
  Dice dice(7);
  const SyntheticScene scene = unkind_scene(dice, 200, 150);
  Dice noise(1);
  ScaleInput input = scene.input(noise);
  input.standards = with_exact_print(input.standards);
  const Scale upright = fit_scale(input);
  ScaleInput turned = input;
  // Clockwise: x' = height - 1 - y, y' = x.
  const auto turn = [&](ImagePoint p) { return ImagePoint{input.image_size.height - 1 - p.y, p.x}; };
  turned.image_size = {input.image_size.height, input.image_size.width};
  turned.turned_quarter = true;
  for (Marker& m : turned.markers) {
    for (ImagePoint& p : m.corners) p = turn(p);
  }
  for (ImagePoint& p : *turned.corners_px) p = turn(p);
  const Scale quarter = fit_scale(turned);
  ASSERT_NE(quarter.map, nullptr);
  for (const ImagePoint p : {ImagePoint{1500, 1200}, ImagePoint{2500, 1900}, ImagePoint{1900, 1500}}) {
    EXPECT_LT(distance_mm(upright.map->sheet_from_image(p), quarter.map->sheet_from_image(turn(p))), 0.02);
  }
}

TEST(Scale, APrintThatWasMeasuredOffScaleIsCorrected) {
  SyntheticScene scene;
  for (TrueStrip& strip : scene.strips) strip.print = 0.97;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards.strip_length_mm = Measured{0.97 * 250, 0.3};
  const Scale by_rule = fit_scale(input);
  EXPECT_LT(scene.worst_error_mm(*by_rule.map), 0.10);
  // The bar wins over the length.
  input.standards.strip_length_mm = Measured{250.0, 0.3};
  input.standards.strip_bar_mm = Measured{0.97 * 140, 0.1};
  EXPECT_LT(scene.worst_error_mm(*fit_scale(input).map), 0.10);
}

TEST(Scale, WithNothingMeasuredTheFigureCoversAPrintThatIsOnePerCentOff) {
  SyntheticScene scene;
  for (TrueStrip& strip : scene.strips) strip.print = 1.0095;
  Dice dice(1);
  const Scale scale = fit_scale(scene.input(dice));
  EXPECT_GT(scene.worst_error_mm(*scale.map), 1.0);
  EXPECT_LE(scene.worst_error_mm(*scale.map), scale.position_u95_mm);
  EXPECT_TRUE(advises(scale, "strip_bar_mm"));
}

TEST(Scale, UnknownThicknessIsSaidAndCovered) {
  SyntheticScene scene;
  scene.thickness = 8.0;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print({});
  const Scale scale = fit_scale(input);
  EXPECT_TRUE(advises(scale, "thickness_mm"));
  EXPECT_GT(scene.worst_error_mm(*scale.map), 0.4);
  EXPECT_LE(scene.worst_error_mm(*scale.map), scale.position_u95_mm);
}

TEST(Scale, APhotoWithoutFocalLengthStillMeasuresWithinALargerFigure) {
  for (const double tilt : {0.0, 15.0}) {
    Dice dice(9);
    SyntheticScene scene = unkind_scene(dice, 240, 180);
    scene.tilt_deg = tilt;
    scene.focal_px = 3400.0;
    Dice noise(1);
    ScaleInput input = scene.input(noise);
    input.standards = with_exact_print(input.standards);
    const double told = fit_scale(input).position_u95_mm;
    input.focal_35mm_mm.reset();
    const Scale scale = fit_scale(input);
    ASSERT_NE(scale.map, nullptr) << scale.reason;
    EXPECT_LE(scene.worst_error_mm(*scale.map), scale.position_u95_mm) << tilt;
    EXPECT_GE(scale.position_u95_mm, told);
    EXPECT_TRUE(advises(scale, "focal length"));
  }
}

TEST(Scale, AnUltraWideLensAndACroppedPictureAreSaid) {
  Dice dice(1);
  ScaleInput input = SyntheticScene{}.input(dice);
  EXPECT_FALSE(advises(fit_scale(input), "ultra-wide"));
  EXPECT_FALSE(advises(fit_scale(input), "cropped"));
  input.focal_35mm_mm = 14.0;
  input.image_size.height = 2250;
  const Scale scale = fit_scale(input);
  EXPECT_TRUE(advises(scale, "ultra-wide"));
  EXPECT_TRUE(advises(scale, "cropped"));
}

TEST(Scale, MeasuredSidesMakeUpForAnUnmeasuredPrint) {
  Dice dice(5);
  SyntheticScene scene = unkind_scene(dice, 300, 240);
  for (TrueStrip& strip : scene.strips) strip.print = 1.008;
  ScaleInput input = scene.input(dice);
  input.standards.size_mm = {{300.0, 240.0}};
  input.standards.size_u95_mm = 0.2;
  const Scale scale = fit_scale(input);
  EXPECT_EQ(scale.source, ScaleSource::strips_and_size);
  EXPECT_LT(scene.worst_error_mm(*scale.map), 0.25);
  EXPECT_LE(scale.position_u95_mm, 0.4);
}

TEST(Scale, ASlipOfThePenIsLeftOutAndSaid) {
  SyntheticScene scene;
  Dice dice(5);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  input.standards.size_mm = {{240.0, 108.0}};  // 180 was meant
  const Scale scale = fit_scale(input);
  EXPECT_TRUE(advises(scale, "108.0 mm does not fit"));
  EXPECT_LT(scene.worst_error_mm(*scale.map), 0.15);
}

TEST(Scale, StripsOnSpacersAreRightWhenTold) {
  SyntheticScene scene;
  for (TrueStrip& strip : scene.strips) strip.height_mm = 6.0;
  Dice dice(5);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  input.standards.strip_height_mm = 6.0;
  EXPECT_LT(scene.worst_error_mm(*fit_scale(input).map), 0.10);
}

TEST(Scale, AStripLyingOnTheSheetIsFoundNamedAndAllowedFor) {
  int named = 0;
  for (std::uint64_t seed = 20; seed < 30; ++seed) {
    Dice dice(seed);
    SyntheticScene scene = unkind_scene(dice, 240, 180);
    scene.strips[2].height_mm = 6.0;
    const Scale scale = fitted(scene, seed);
    ASSERT_NE(scale.map, nullptr) << scale.reason;
    if (scale.flagged_strips == std::vector<int>{2} && advises(scale, "strip 2")) ++named;
    EXPECT_LT(scene.worst_error_mm(*scale.map), 0.6);
  }
  EXPECT_EQ(named, 10);
}

TEST(Scale, StripsThatLieWellAreNotAccused) {
  for (std::uint64_t seed = 40; seed < 60; ++seed) {
    Dice dice(seed);
    EXPECT_TRUE(fitted(unkind_scene(dice, 240, 180), seed).flagged_strips.empty()) << seed;
  }
}

TEST(Scale, TwoSwappedIdsDoNotMoveTheMap) {
  SyntheticScene scene;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  std::swap(input.markers[6].corners, input.markers[9].corners);
  const Scale scale = fit_scale(input);
  ASSERT_NE(scale.map, nullptr) << scale.reason;
  EXPECT_LT(scene.worst_error_mm(*scale.map), 0.15);
}

TEST(Scale, TheOrderOfTheMarkersDoesNotMatter) {
  SyntheticScene scene;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  const double before = fit_scale(input).map->sheet_from_image({2600, 2000}).x;
  std::reverse(input.markers.begin(), input.markers.end());
  EXPECT_NEAR(fit_scale(input).map->sheet_from_image({2600, 2000}).x, before, 1e-3);
}

TEST(Scale, AMarkerPulledAsideAndAStrayCornerAreLeftOut) {
  SyntheticScene scene;
  scene.corner_noise_px = 0.05;
  Dice dice(1);
  ScaleInput input = scene.input(dice);
  input.standards = with_exact_print(input.standards);
  for (ImagePoint& p : input.markers[3].corners) p.x += 10;
  input.markers[12].corners[1].y -= 7;
  EXPECT_LT(scene.worst_error_mm(*fit_scale(input).map), 0.15);
}

TEST(Scale, StripsThatDoNotFitTheirDesignAreRefused) {
  SyntheticScene scene;
  scene.corner_noise_px = 3.0;
  const Scale scale = fitted(scene);
  EXPECT_EQ(scale.map, nullptr);
  EXPECT_NE(scale.reason.find("do not"), std::string::npos);
}

TEST(Scale, TheSameInputGivesTheSameAnswer) {
  Dice dice(3);
  const SyntheticScene scene = unkind_scene(dice, 240, 180);
  const Scale a = fitted(scene), b = fitted(scene);
  EXPECT_EQ(a.position_u95_mm, b.position_u95_mm);
  EXPECT_EQ(a.map->sheet_from_image({2000, 1000}).x, b.map->sheet_from_image({2000, 1000}).x);
}

// Of 60 scenes whose nuisances are drawn at the size the priors take for likely, 95 % are asked to lie inside; with
// the 1.25 margin 57 or more are expected, and 54 would come by chance once in 5000 times at a true 97 %.
TEST(Scale, TheStatedFigureCoversTheLargestErrorOverTheFace) {
  int inside = 0;
  double sum = 0.0;
  for (std::uint64_t seed = 100; seed < 160; ++seed) {
    Dice dice(seed);
    SyntheticScene scene = unkind_scene(dice, 240, 180);
    const double print = 1 + dice.normal(0.15 / 250);
    for (TrueStrip& strip : scene.strips) strip.print = print;
    const Scale scale = fitted(scene, seed);
    ASSERT_NE(scale.map, nullptr) << scale.reason;
    inside += scene.worst_error_mm(*scale.map) <= scale.position_u95_mm;
    sum += scale.position_u95_mm;
  }
  EXPECT_GE(inside, 55);
  EXPECT_LT(sum / 60, 0.6);  // a figure that always covers because it is huge would be useless
}

}  // namespace
}  // namespace sheetloupe
