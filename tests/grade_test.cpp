#include "sheetloupe/grade.h"

#include <gtest/gtest.h>

#include "sheetloupe/errors.h"

namespace sheetloupe {
namespace {

Limit at_most(Measure measure, double a, double b) {
  Limit limit;
  limit.measure = measure;
  limit.a = a;
  limit.b = b;
  return limit;
}

Limit at_least(Measure measure, double a, double b) {
  Limit limit = at_most(measure, a, b);
  limit.at_least = true;
  return limit;
}

Rubric rubric(std::vector<Limit> limits) {
  Rubric r;
  r.name = "test";
  r.meaning = {"fine", "fair", "poor"};
  r.limits = std::move(limits);
  return r;
}

GradeDefect defect(DefectLabel kind, SheetPoint at, double diameter, double confidence = 1.0) {
  GradeDefect d;
  d.id = "F1";
  d.kind = kind;
  d.centre = at;
  d.diameter_mm = diameter;
  d.area_mm2 = 0.785 * diameter * diameter;
  d.confidence = confidence;
  return d;
}

GradeFace sound_face() {
  GradeFace face;
  face.role = "front";
  face.measured = face.judged = face.weave_found = true;
  face.width_mm = 200;
  face.height_mm = 100;
  face.judged_share = 100;
  return face;
}

GradeInput sheet(GradeFace face) {
  GradeInput input;
  input.faces = {std::move(face)};
  return input;
}

bool mentions(const std::vector<std::string>& lines, const std::string& words) {
  for (const std::string& line : lines)
    if (line.find(words) != std::string::npos) return true;
  return false;
}

TEST(Grade, RubricWithoutLimitsIsRefused) { EXPECT_THROW(grade_sheet({}, rubric({})), InputError); }

TEST(Grade, LimitsInTheWrongOrderAreRefusedByName) {
  try {
    check(rubric({at_most(Measure::dry_spot_diameter, 19, 14)}));
    FAIL();
  } catch (const InputError& e) {
    EXPECT_NE(std::string(e.what()).find("dry_spot_diameter_mm"), std::string::npos);
  }
  EXPECT_THROW(check(rubric({at_least(Measure::usable_share, 60, 85)})), InputError);
}

TEST(Grade, ZoneWhereTheMeasureHasNoneIsRefused) {
  Limit limit = at_most(Measure::dry_spot_diameter, 14, 19);
  limit.zone_mm = 50;
  EXPECT_THROW(check(rubric({limit})), InputError);
  EXPECT_THROW(check(rubric({at_most(Measure::pinholes_in_zone, 10, 25)})), InputError);
}

TEST(Grade, NoFaceIsNotGradedAndSaysWhy) {
  const Grade grade = grade_sheet({}, rubric({at_most(Measure::dry_spot_diameter, 14, 19)}));
  EXPECT_FALSE(grade.graded);
  EXPECT_TRUE(mentions(grade.reasons, "front was not measured"));
}

TEST(Grade, SoundFaceIsA) {
  const Grade grade = grade_sheet(sheet(sound_face()), rubric({at_most(Measure::dry_spot_diameter, 14, 19)}));
  EXPECT_TRUE(grade.graded);
  EXPECT_EQ(grade.letter, 'A');
  EXPECT_TRUE(mentions(grade.remarks, "back was not photographed"));
}

TEST(Grade, AUsableShareWhoseIntervalHoldsALimitIsTooCloseToCall) {
  GradeInput input = sheet(sound_face());
  input.usable_share = 85.1;
  const Rubric limits = rubric({at_least(Measure::usable_share, 85, 60)});
  EXPECT_EQ(grade_sheet(input, limits).letter, 'A');
  input.usable_share_u95 = 0.3;
  EXPECT_EQ(grade_sheet(input, limits).letter, 'B');
  input.usable_share_u95 = 0.05;
  EXPECT_EQ(grade_sheet(input, limits).letter, 'A');
}

TEST(Grade, DrySpotJustOverALimitIsTheNextGradeAndIsNamed) {
  // Levels II and III: 14 and 19 mm (ASTM D2562 / D2563, from memory).
  const Rubric levels = rubric({at_most(Measure::dry_spot_diameter, 14, 19)});
  const auto letter = [&](double diameter) {
    GradeFace face = sound_face();
    face.defects = {defect(DefectLabel::dry_spot, {50, 50}, diameter)};
    return grade_sheet(sheet(face), levels).letter;
  };
  EXPECT_EQ(letter(14.0), 'A');
  EXPECT_EQ(letter(14.1), 'B');
  EXPECT_EQ(letter(19.1), 'C');
  GradeFace face = sound_face();
  face.defects = {defect(DefectLabel::dry_spot, {50, 50}, 15.0)};
  const Grade grade = grade_sheet(sheet(face), levels);
  ASSERT_EQ(grade.reasons.size(), 1U);
  EXPECT_TRUE(mentions(grade.reasons, "15 mm, F1 on the front; A allows up to 14 mm"));
}

TEST(Grade, IntervalAcrossALimitIsTooCloseToCallAndCountsAsTheWorse) {
  GradeFace face = sound_face();
  GradeDefect spot = defect(DefectLabel::dry_spot, {50, 50}, 13.5);
  spot.area_u95_mm2 = 0.2 * spot.area_mm2;  // diameter +-10 %: 12.15 to 14.85 mm
  face.defects = {spot};
  const Grade grade = grade_sheet(sheet(face), rubric({at_most(Measure::dry_spot_diameter, 14, 19)}));
  EXPECT_EQ(grade.letter, 'B');
  EXPECT_EQ(grade.could_be, 'A');
  EXPECT_EQ(grade.results[0].against_a, Verdict::too_close_to_call);
  EXPECT_EQ(grade.results[0].against_b, Verdict::passes);
  EXPECT_NEAR(grade.results[0].low, 12.15, 1e-9);
  EXPECT_NEAR(grade.results[0].high, 14.85, 1e-9);
  EXPECT_TRUE(mentions(grade.reasons, "Too close to call between A and B"));
}

TEST(Grade, FindThatMayNotBeRealIsTooCloseToCall) {
  GradeFace face = sound_face();
  face.defects = {defect(DefectLabel::dry_spot, {50, 50}, 16, 0.6)};
  const Grade grade = grade_sheet(sheet(face), rubric({at_most(Measure::dry_spot_diameter, 14, 19)}));
  EXPECT_EQ(grade.could_be, 'A');
  EXPECT_EQ(grade.letter, 'B');
  EXPECT_TRUE(mentions(grade.reasons, "may not be real"));
}

TEST(Grade, PinholesThePhotoCannotShowLeaveTheLimitOpen) {
  GradeFace face = sound_face();
  face.smallest_pinhole_mm = 0.5;
  const Grade grade = grade_sheet(sheet(face), rubric({at_most(Measure::pinhole_diameter, 0.4, 0.8)}));
  EXPECT_EQ(grade.results[0].against_a, Verdict::too_close_to_call);
  EXPECT_EQ(grade.letter, 'B');
  EXPECT_EQ(grade.could_be, 'A');
}

TEST(Grade, ClusterIsFoundInItsZoneWhateverSideOfABorderItLies) {
  Limit limit = at_most(Measure::pinholes_in_zone, 3, 10);
  limit.zone_mm = 50;
  for (const double x : {25.0, 50.0, 75.0, 99.0, 180.0}) {
    GradeFace face = sound_face();
    for (int i = 0; i < 5; ++i) face.defects.push_back(defect(DefectLabel::pinhole, {x + i, 50}, 0.6));
    const Grade grade = grade_sheet(sheet(face), rubric({limit}));
    EXPECT_EQ(*grade.results[0].value, 5.0) << x;
    EXPECT_EQ(grade.letter, 'B') << x;
  }
}

TEST(Grade, LoadsAreSharesOfTheFaceOrOfTheZone) {
  GradeFace face = sound_face();  // 2 dm2
  for (int i = 0; i < 4; ++i) face.defects.push_back(defect(DefectLabel::pinhole, {20.0 + i, 20}, 0.6));
  Limit zone = at_most(Measure::pinholes_per_dm2, 1, 100);
  zone.zone_mm = 50;  // a quarter dm2
  const Grade grade = grade_sheet(sheet(face), rubric({at_most(Measure::pinholes_per_dm2, 1, 4), zone}));
  EXPECT_NEAR(*grade.results[0].value, 2.0, 1e-12);
  EXPECT_NEAR(*grade.results[1].value, 16.0, 1e-12);
}

TEST(Grade, TurnOfOneCornerIsSeenInItsZoneNotInTheWholeFace) {
  GradeFace face = sound_face();
  face.turn_p95_deg = 1.0;
  face.turns.columns = 40;
  face.turns.rows = 20;
  face.turns.warp_deg.assign(800, 0.5);
  face.turns.weft_deg.assign(800, 0.5);
  for (int r = 0; r < 8; ++r)
    for (int c = 0; c < 8; ++c) face.turns.weft_deg[static_cast<std::size_t>(r * 40 + c)] = -7.0;
  Limit zone = at_most(Measure::tow_turn_p95, 5, 10);
  zone.zone_mm = 40;
  const Grade grade = grade_sheet(sheet(face), rubric({at_most(Measure::tow_turn_p95, 3, 5), zone}));
  EXPECT_EQ(*grade.results[0].value, 1.0);
  EXPECT_EQ(*grade.results[1].value, 7.0);
  EXPECT_TRUE(mentions(grade.reasons, "the zone from 0, 0 mm on the front"));
}

TEST(Grade, HalfHiddenFaceIsNotGraded) {
  GradeFace face = sound_face();
  face.judged_share = 50;
  const Grade grade = grade_sheet(sheet(face), rubric({at_most(Measure::dry_spot_diameter, 14, 19)}));
  EXPECT_FALSE(grade.graded);
  EXPECT_TRUE(mentions(grade.reasons, "50 %"));
}

TEST(Grade, MissingMeasureIsLeftOutUnlessRequired) {
  Limit weave = at_most(Measure::tow_turn_p95, 3, 5);
  GradeFace face = sound_face();
  face.weave_found = false;
  face.weave_reason = "too dark";
  const std::vector<Limit> limits = {at_most(Measure::dry_spot_diameter, 14, 19), weave};
  const Grade without = grade_sheet(sheet(face), rubric(limits));
  EXPECT_TRUE(without.graded);
  EXPECT_TRUE(mentions(without.remarks, "too dark"));
  weave.required = true;
  const Grade with = grade_sheet(sheet(face), rubric({limits[0], weave}));
  EXPECT_FALSE(with.graded);
  EXPECT_TRUE(mentions(with.reasons, "too dark"));
}

TEST(Grade, UncertainPlyCountIsTooCloseToCall) {
  GradeInput input = sheet(sound_face());
  GradeEdge edge;
  edge.side = "top";
  edge.plies_off = {0, 1};
  input.edges = {edge};
  const Grade grade = grade_sheet(input, rubric({at_most(Measure::plies_off, 0, 1)}));
  EXPECT_EQ(grade.letter, 'B');
  EXPECT_EQ(grade.could_be, 'A');
}

TEST(Grade, RingYieldIsPartOfTheGrade) {
  GradeInput input = sheet(sound_face());
  const Rubric r = rubric({at_least(Measure::ring_yield, 90, 70)});
  EXPECT_FALSE(grade_sheet(input, r).graded);  // the only limit was not measured
  input.yield = RingYield{40, 80.0};
  const Grade grade = grade_sheet(input, r);
  EXPECT_EQ(grade.letter, 'B');
  EXPECT_TRUE(mentions(grade.reasons, "80 %, 40 good blanks; A asks for at least 90 %"));
}

Plan plan_of(std::vector<double> saws, int flawless, const std::string& stopped_by) {
  Plan plan;
  for (const double saw : saws) {
    Blank blank;
    blank.saw_outer_mm = saw;
    plan.blanks.push_back(blank);
  }
  plan.bound_flawless = flawless;
  plan.stopped_by = stopped_by;
  return plan;
}

TEST(RingYield, PlanThatLeavesTheSheetHalfEmptySaysNothing) {
  EXPECT_FALSE(ring_yield({}, 2));
  EXPECT_FALSE(ring_yield(plan_of({30, 30}, 20, "complete"), 2));
}

TEST(RingYield, IsTheShareOfAFlawlessSheetAndMixedSawsCountByArea) {
  EXPECT_NEAR(ring_yield(plan_of({30, 30, 30}, 4, "evaluations"), 2)->share, 75.0, 1e-12);
  // A 38 mm saw with 2 mm web takes (40 / 20)^2 = 4 places of an 18 mm saw.
  EXPECT_NEAR(ring_yield(plan_of({18, 38}, 10, "evaluations"), 2)->share, 50.0, 1e-12);
  EXPECT_EQ(ring_yield(plan_of({18, 18}, 1, "evaluations"), 2)->share, 100.0);
}

}  // namespace
}  // namespace sheetloupe
