#include "sheetloupe/placement.h"

#include <gmock/gmock.h>

#include <cmath>
#include <cstdio>
#include <fstream>
#include <string>

#include "sheetloupe/errors.h"
#include "sheetloupe/plan_check.h"
#include "support/sheets.h"

namespace sheetloupe {
namespace {

PlacementOptions quick(std::uint64_t evaluations = 4000) {
  PlacementOptions options;
  options.evaluations = evaluations;
  return options;
}

// Saw 30, kerf 1.5, ring 18 to 24: annulus 9 to 12 mm, kerf 13.5 to 15.
Orders one_ring() {
  Orders orders = fill_orders(30);
  orders.rings[0].count = 1;
  return orders;
}

TEST(Placement, MapWithoutAnOutlineIsRefused) {
  EXPECT_THROW(place_blanks(UsableMap{}, fill_orders(30), quick()), InputError);
}

TEST(Placement, SheetSmallerThanTheSawHoldsNothingAndSaysSo) {
  const Plan plan = place_blanks(rectangle_sheet(29, 100), one_ring(), quick());
  EXPECT_TRUE(plan.blanks.empty());
  ASSERT_EQ(plan.unplaced.size(), 1U);
  EXPECT_EQ(plan.unplaced[0].count, 1);
  EXPECT_EQ(plan.bound_proven, 0);
}

TEST(Placement, SheetOfExactlyOneSawHoldsOne) {
  const Plan plan = place_blanks(rectangle_sheet(30, 30), one_ring(), quick());
  ASSERT_EQ(plan.blanks.size(), 1U);
  EXPECT_NEAR(plan.blanks[0].centre.x, 15.0, 1e-6);
  EXPECT_EQ(plan.blanks[0].id, "H-001-01");
}

TEST(Placement, RingWiderThanTheSheetIsThickIsRefusedWithBothFigures) {
  UsableMap map = rectangle_sheet(100, 100);
  map.thickness_mm = 5.1;
  Orders orders = one_ring();
  orders.face_allowance_mm = 0.2;
  const Plan plan = place_blanks(map, orders, quick());
  ASSERT_EQ(plan.unplaced.size(), 1U);
  EXPECT_THAT(plan.unplaced[0].reason, testing::AllOf(testing::HasSubstr("5.20"), testing::HasSubstr("5.10")));
}

TEST(Placement, SmallestSawWhosePlugCoversRingAndAllowanceIsTaken) {
  Orders orders = one_ring();
  orders.turning_allowance_mm = 0.4;
  orders.saws = {{"35", 35, 1.5}, {"27", 27, 1.5}, {"28", 28, 1.5}};
  const Plan plan = place_blanks(rectangle_sheet(100, 100), orders, quick());
  ASSERT_EQ(plan.blanks.size(), 1U);
  EXPECT_EQ(plan.blanks[0].saw, "28");
}

// The one centre that fits is (15, 15): a pinhole at each distance says which part of the blank it meets.
TEST(Placement, PinholeHarmsInTheAnnulusOnly) {
  const struct {
    double distance;
    bool harms;
  } cases[] = {{0, false}, {8.4, false}, {8.6, true}, {10.5, true}, {12.4, true}, {12.6, false}, {14.2, false}};
  for (const auto& c : cases) {
    UsableMap map = rectangle_sheet(30, 30);
    map.features.push_back(pinhole_feature({15 + c.distance, 15}, 1.0, "F1"));
    const Plan plan = place_blanks(map, one_ring(), quick());
    EXPECT_EQ(plan.blanks.empty(), c.harms) << c.distance;
    if (!c.harms) {
      EXPECT_THAT(plan.blanks.at(0).harmless_defects, testing::ElementsAre("F1")) << c.distance;
      EXPECT_NEAR(plan.blanks[0].clearance_mm, c.distance < 9 ? 8.5 - c.distance : c.distance - 12.5, 1e-3);
    }
  }
}

// One defect of each sort moved outward from the centre of the one place there is: core, annulus, kerf, web. What is in
// the annulus bars the blank whichever face it lies on; what is elsewhere changes nothing but the list of harmless
// ones.
TEST(Placement, ADefectMovedThroughCoreAnnulusAndKerfOnEitherFaceChangesOnlyWhatItMust) {
  for (const char* face : {"front", "back"}) {
    for (const bool round : {true, false}) {
      for (double far = 0.0; far < 20.0; far += 0.25) {
        UsableMap map = rectangle_sheet(30, 30);  // the centre is (15, 15): annulus 9 to 12, saw to 15
        const double half = 0.4, x = 15 + far;
        map.features.push_back(round ? pinhole_feature({x, 15}, 2 * half, "F1")
                                     : polygon_feature(FeatureKind::defect,
                                                       {{x - half, 15}, {x, 15 - half}, {x + half, 15}, {x, 15 + half}},
                                                       "F1"));
        map.features.back().face = face;
        const Plan plan = place_blanks(map, one_ring(), quick(1500));
        const bool harms = far + half > 9 && far - half < 12, touched = far - half <= 15;
        // Within rounding of the annulus' edge either answer is right.
        if (std::min(std::abs(far + half - 9), std::abs(far - half - 12)) < 1e-3) continue;
        ASSERT_EQ(plan.blanks.empty(), harms) << face << round << far;
        if (harms) {
          EXPECT_EQ(plan.unplaced.at(0).count, 1);
          EXPECT_THAT(plan.unplaced[0].reason, testing::HasSubstr("free of"));
          continue;
        }
        EXPECT_NEAR(plan.blanks[0].centre.x, 15, 1e-5);
        EXPECT_EQ(plan.blanks[0].harmless_defects.size(), touched ? 1U : 0U) << far;
      }
    }
  }
}

TEST(Placement, PositionUncertaintyAndTurningAllowanceWidenTheAnnulus) {
  UsableMap map = rectangle_sheet(30, 30);
  map.features.push_back(pinhole_feature({15 + 8.0, 15}, 0.0, "F1"));
  Orders orders = one_ring();
  EXPECT_EQ(place_blanks(map, orders, quick()).blanks.size(), 1U);
  map.position_u95_mm = 0.6;
  orders.template_mm = 0.5;  // e = root(0.36 + 0.25) = 0.78
  EXPECT_EQ(place_blanks(map, orders, quick()).blanks.size(), 1U);
  orders.turning_allowance_mm = 0.3;  // e = 1.08: the annulus starts at 7.92
  EXPECT_TRUE(place_blanks(map, orders, quick()).blanks.empty());
}

TEST(Placement, DrillWanderWidensTheWebOnBothSides) {
  Orders orders = fill_orders(30);
  orders.web_mm = 2;
  EXPECT_EQ(place_blanks(rectangle_sheet(62, 30), orders, quick()).blanks.size(), 2U);
  orders.drill_wander_mm = 0.1;
  EXPECT_EQ(place_blanks(rectangle_sheet(62.1, 30), orders, quick()).blanks.size(), 1U);
  EXPECT_EQ(place_blanks(rectangle_sheet(62.3, 30), orders, quick()).blanks.size(), 2U);
}

TEST(Placement, DefectWiderThanTheCoreHasNoHarmlessPlaceInside) {
  UsableMap map = rectangle_sheet(30, 30);
  map.features.push_back(polygon_feature(FeatureKind::defect, {{5, 5}, {25, 5}, {25, 25}, {5, 25}}, "F1"));
  EXPECT_TRUE(place_blanks(map, one_ring(), quick()).blanks.empty());
}

TEST(Placement, ThinZoneBarsOnlyRingsTooWideForIt) {
  UsableMap map = rectangle_sheet(30, 30);
  map.features.push_back(polygon_feature(FeatureKind::thin_zone, {{0, 0}, {30, 0}, {30, 30}, {0, 30}}));
  map.features.back().thickness_mm = 5.0;
  EXPECT_EQ(place_blanks(map, one_ring(), quick()).blanks.size(), 1U);
  map.features.back().thickness_mm = 4.9;
  EXPECT_TRUE(place_blanks(map, one_ring(), quick()).blanks.empty());
}

// The smaller saw's ring is barred where the larger saw's ring lies.
TEST(Placement, BoundHoldsWhereTheSmallestSawIsBarred) {
  UsableMap map = rectangle_sheet(130, 34);
  map.features.push_back(polygon_feature(FeatureKind::thin_zone, {{0, 0}, {100, 0}, {100, 34}, {0, 34}}));
  map.features.back().thickness_mm = 4.0;
  Orders orders = fill_orders(30);
  RingOrder narrow = orders.rings[0];
  narrow.name = "narrow";
  narrow.inner_diameter_mm = 22;  // too wide for the saw of 30
  narrow.width_mm = 3;
  orders.rings.push_back(narrow);
  orders.saws.push_back({"wide saw", 32, 1.5});
  const Plan plan = place_blanks(map, orders, quick());
  ASSERT_EQ(plan.blanks.size(), 4U);  // one of stock at the right, three narrow ones beside it
  EXPECT_GE(plan.bound_proven, 4);
}

TEST(Placement, PinholeThatTheMakerAcceptsBarsNothing) {
  UsableMap map = rectangle_sheet(30, 30);
  map.features.push_back(pinhole_feature({25.5, 15}, 0.3, "F1"));
  Orders orders = one_ring();
  EXPECT_TRUE(place_blanks(map, orders, quick()).blanks.empty());
  orders.rings[0].accept_pinhole_mm = 0.3;
  EXPECT_EQ(place_blanks(map, orders, quick()).blanks.size(), 1U);
}

TEST(Placement, PinnedPlaceIsKeptAndAnImpossiblePinIsOneMessage) {
  PlacementOptions options = quick();
  options.pins = {{40, 41}};
  const Plan plan = place_blanks(rectangle_sheet(100, 100), fill_orders(30), options);
  EXPECT_TRUE(std::any_of(plan.blanks.begin(), plan.blanks.end(),
                          [](const Blank& b) { return b.centre.x == 40 && b.centre.y == 41; }));
  options.pins = {{5, 5}};
  EXPECT_THROW(place_blanks(rectangle_sheet(100, 100), fill_orders(30), options), InputError);
}

TEST(Placement, TakenHolesAndAvoidedPlacesAreKeptClear) {
  PlacementOptions options = quick();
  options.taken = {{{50, 50}, Mm(15)}};
  options.avoid = {{{100, 100}, Mm(20)}};
  Orders orders = fill_orders(30);
  orders.web_mm = 2;
  const UsableMap map = rectangle_sheet(200, 150);
  const Plan plan = place_blanks(map, orders, options);
  EXPECT_GT(plan.blanks.size(), 10U);
  EXPECT_THAT(check_plan(map, orders, options, plan), testing::IsEmpty());
}

TEST(Placement, LShapedSheetWithAHoleAndASecondIslandIsFilledExactly) {
  UsableMap map;
  map.features.push_back(
      polygon_feature(FeatureKind::outline, {{0, 0}, {200, 0}, {200, 80}, {90, 80}, {90, 180}, {0, 180}}));
  map.features.back().polygon.holes.push_back({{30, 30}, {50, 30}, {50, 50}, {30, 50}});
  map.features.push_back(polygon_feature(FeatureKind::outline, {{110, 100}, {200, 100}, {200, 180}, {110, 180}}));
  const Orders orders = fill_orders(30);
  const Plan plan = place_blanks(map, orders, quick());
  EXPECT_THAT(check_plan(map, orders, quick(), plan), testing::IsEmpty());
  EXPECT_TRUE(std::any_of(plan.blanks.begin(), plan.blanks.end(),
                          [](const Blank& b) { return b.centre.x > 110 && b.centre.y > 100; }));
  EXPECT_GE(plan.bound_proven, static_cast<int>(plan.blanks.size()));
}

TEST(Placement, SameInputGivesTheSamePlanOnOneAndTwoThreads) {
  const UsableMap map = spoiled_sheet(7, 200, 150, 15, 3);
  PlacementOptions one = quick(), two = quick();
  two.threads = 2;
  const Plan a = place_blanks(map, fill_orders(30), one), b = place_blanks(map, fill_orders(30), two);
  ASSERT_EQ(a.blanks.size(), b.blanks.size());
  EXPECT_EQ(a.bound_flawless, b.bound_flawless);
  for (std::size_t i = 0; i < a.blanks.size(); ++i) {
    EXPECT_EQ(a.blanks[i].centre.x, b.blanks[i].centre.x);
    EXPECT_EQ(a.blanks[i].centre.y, b.blanks[i].centre.y);
  }
}

TEST(Placement, InterruptedSearchGivesAValidPlan) {
  const UsableMap map = spoiled_sheet(8, 200, 150, 15, 3);
  PlacementOptions options = quick(100000);
  options.progress = [](int, double) { return false; };
  const Plan plan = place_blanks(map, fill_orders(30), options);
  EXPECT_EQ(plan.stopped_by, "interrupted");
  EXPECT_FALSE(plan.blanks.empty());
  EXPECT_THAT(check_plan(map, fill_orders(30), options, plan), testing::IsEmpty());
}

TEST(Placement, WhatComesFirstIsNeverLostToWhatComesLater) {
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    const UsableMap map = spoiled_sheet(seed, 120, 100, 8, 1);
    Orders first = fill_orders(38, 24, 4);
    first.rings[0].name = "first";
    first.rings[0].count = 6;
    Orders both = first;
    RingOrder later = first.rings[0];
    later.name = "later";
    later.priority = 2;
    later.inner_diameter_mm = 16;
    later.wall_mm = 2;
    later.count = 20;
    both.rings.insert(both.rings.begin(), later);
    both.saws.push_back({"25", 25, 1.5});
    const auto count = [](const Plan& plan) {
      return std::count_if(plan.blanks.begin(), plan.blanks.end(), [](const Blank& b) { return b.ring == "first"; });
    };
    const Plan plan = place_blanks(map, both, quick());
    EXPECT_GE(count(plan), count(place_blanks(map, first, quick()))) << seed;
    EXPECT_THAT(check_plan(map, both, quick(), plan), testing::IsEmpty()) << seed;
  }
}

TEST(Placement, SmallerForbiddenPlacesNeverGiveFewerBlanksFromTheSameStart) {
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    const UsableMap map = spoiled_sheet(seed, 150, 150, 12, 2);
    PlacementOptions options = quick();
    std::size_t before = 0;
    for (const Harm harm : {Harm::whole_circle, Harm::disc, Harm::annulus}) {
      options.harm = harm;
      const Plan plan = place_blanks(map, fill_orders(30), options);
      EXPECT_GE(plan.blanks.size(), before) << seed;
      before = plan.blanks.size();
      options.start.clear();
      for (const Blank& b : plan.blanks) options.start.push_back(b.centre);
    }
  }
}

TEST(Placement, OrdersBelowCapacityLeaveOneCleanStrip) {
  const UsableMap map = spoiled_sheet(11, 300, 200, 10, 3);
  Orders orders = fill_orders(30);
  orders.web_mm = 2;
  orders.rings[0].count = 12;
  PlacementOptions options = quick(20000);
  const Plan plan = place_blanks(map, orders, options);
  ASSERT_EQ(plan.blanks.size(), 12U);
  EXPECT_THAT(check_plan(map, orders, options, plan), testing::IsEmpty());
  double left = 300, right = 0, top = 200, bottom = 0;
  for (const Blank& b : plan.blanks) {
    left = std::min(left, b.centre.x - 15);
    right = std::max(right, b.centre.x + 15);
    top = std::min(top, b.centre.y - 15);
    bottom = std::max(bottom, b.centre.y + 15);
  }
  // Two columns of six would need 64 x 200 of the 300 mm; defects cost some of it.
  const double kept = std::max({left / 300, 1 - right / 300, top / 200, 1 - bottom / 200});
  EXPECT_GT(kept, 0.6);
}

// A random star-shaped outline, sometimes with a hole, with every sort of barred place.
UsableMap random_sheet(std::uint64_t seed) {
  Bits bits(seed);
  UsableMap map = spoiled_sheet(seed, 140, 120, 5, 2);
  if (seed % 2 == 0) map.features[0].polygon.outer = blob(bits, {70, 60}, 55);
  if (seed % 3 == 0) map.features[0].polygon.holes.push_back(blob(bits, {70, 60}, 8));
  map.position_u95_mm = bits.from(0, 0.5);
  map.features.push_back(
      polygon_feature(FeatureKind::weave_zone, blob(bits, {bits.from(0, 140), bits.from(0, 120)}, 6)));
  map.features.push_back(
      polygon_feature(FeatureKind::not_judged, blob(bits, {bits.from(0, 140), bits.from(0, 120)}, 4)));
  return map;
}

// The outline of a ragged sheet: sides that wave by half a millimetre, where a straightened dent once cost the margin.
TEST(Placement, WavyOutlinesKeepTheirMargin) {
  for (int kind = 0; kind < 6; ++kind) {
    const double period = 6.0 + 5.0 * kind, depth = 0.25 + 0.1 * kind, w = 130, h = 110;
    UsableMap map = rectangle_sheet(w, h);
    Ring& ring = map.features[0].polygon.outer;
    ring.clear();
    const auto wave = [&](double along) { return depth * std::sin(2 * 3.14159265358979 * along / period); };
    for (double x = 0; x < w; x += 1.5) ring.push_back({x, wave(x)});
    for (double y = 0; y < h; y += 1.5) ring.push_back({w + wave(y), y});
    for (double x = w; x > 0; x -= 1.5) ring.push_back({x, h + wave(x)});
    for (double y = h; y > 0; y -= 1.5) ring.push_back({wave(y), y});
    Orders orders = fill_orders(27);
    orders.edge_margin_mm = 2.0;
    orders.web_mm = 1.5;
    const Plan plan = place_blanks(map, orders, quick(20000));
    EXPECT_GE(plan.blanks.size(), 9U);
    EXPECT_THAT(check_plan(map, orders, {}, plan), testing::IsEmpty()) << kind;
  }
}

TEST(Placement, AThousandRandomSheetsPassTheSeparateCheck) {
  for (std::uint64_t seed = 1; seed <= 1000; ++seed) {
    const UsableMap map = random_sheet(seed);
    Bits bits(seed + 5000);
    Orders orders = fill_orders(bits.from(26, 34), bits.from(14, 18), 2.5, 1.2);
    orders.web_mm = bits.from(0, 3);
    orders.edge_margin_mm = bits.from(0, 3);
    orders.drill_wander_mm = bits.from(0, 0.2);
    const Plan plan = place_blanks(map, orders, quick(seed % 4 == 0 ? 4000 : 100));
    ASSERT_THAT(check_plan(map, orders, quick(), plan), testing::IsEmpty()) << seed;
    ASSERT_LE(static_cast<int>(plan.blanks.size()), plan.bound_proven) << seed;
    ASSERT_LE(static_cast<int>(plan.blanks.size()), plan.bound_flawless) << seed;
  }
}

// Sheets too small for both orders: the later one, with the smaller saw, would gladly take the first one's room.
TEST(Placement, OnTightSheetsNoOrderIsLostToALaterOneAndEveryRingIsAccountedFor) {
  int short_of_room = 0;
  for (std::uint64_t seed = 1; seed <= 250; ++seed) {
    const UsableMap map = random_sheet(seed);
    Orders first = fill_orders(38, 24, 4);
    first.rings[0].name = "first";
    first.rings[0].count = 6;
    first.saws.push_back({"25", 25, 1.5});
    Orders both = first;
    both.rings.insert(both.rings.begin(), RingOrder{"later", 16, 2, 5, 9, 2, 1.0, 0.0, ""});
    const Plan plan = place_blanks(map, both, quick(seed % 4 == 0 ? 4000 : 100));
    const auto placed = [](const Plan& p, const std::string& ring) {
      return static_cast<int>(
          std::count_if(p.blanks.begin(), p.blanks.end(), [&](const Blank& b) { return b.ring == ring; }));
    };
    ASSERT_GE(placed(plan, "first"), placed(place_blanks(map, first, quick(seed % 4 == 0 ? 4000 : 100)), "first"))
        << seed;
    ASSERT_THAT(check_plan(map, both, quick(), plan), testing::IsEmpty()) << seed;
    int missing = 0;
    for (const Unplaced& u : plan.unplaced) {
      ASSERT_FALSE(u.reason.empty()) << seed;
      missing += u.count;
    }
    ASSERT_EQ(plan.blanks.size() + static_cast<std::size_t>(missing), 15U) << seed;
    short_of_room += placed(plan, "first") < 6 ? 1 : 0;
  }
  EXPECT_GT(short_of_room, 75);
}

// Best-known packings of equal circles in a square (source in the file): at the record's diameter less 0.5 %, N fit.
TEST(Placement, BestKnownPackingsInASquareAreReached) {
  std::ifstream file(std::string(TEST_DATA) + "/packing_best_known.csv");
  ASSERT_TRUE(file.good());
  int tried = 0;
  for (std::string line; std::getline(file, line);) {
    int n = 0;
    double radius = 0.0;
    if (std::sscanf(line.c_str(), "%d,%lf", &n, &radius) != 2 || n < 20 || n % 10 != 0) continue;
    const Plan plan =
        place_blanks(rectangle_sheet(300, 300), fill_orders(2 * 300 * radius * 0.995, 6, 1), quick(50000));
    EXPECT_GE(static_cast<int>(plan.blanks.size()), n) << n;
    ++tried;
  }
  EXPECT_EQ(tried, 9);
}

// The checker itself must be able to fail.
TEST(PlanCheck, EveryBrokenRuleIsNamed) {
  UsableMap map = rectangle_sheet(100, 100);
  map.features.push_back(pinhole_feature({60, 50}, 1.0, "F1"));
  const Orders orders = fill_orders(30);
  Plan plan;
  Blank blank;
  blank.id = "H-001-01";
  blank.ring = "stock";
  blank.centre = {50, 50};
  blank.saw_outer_mm = 30;
  blank.kerf_mm = 1.5;
  blank.inner_diameter_mm = 18;
  blank.outer_diameter_mm = 24;
  plan.blanks = {blank, blank};
  plan.blanks[1].centre = {14, 50};
  EXPECT_THAT(check_plan(map, orders, {}, plan),
              testing::UnorderedElementsAre(testing::HasSubstr("takes material from F1"), testing::HasSubstr("edge")));
  plan.blanks[1].centre = {50, 79};
  EXPECT_THAT(check_plan(map, orders, {}, plan), testing::Contains(testing::HasSubstr("too near H-001-01")));
}

}  // namespace
}  // namespace sheetloupe
