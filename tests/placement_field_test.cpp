// Where a centre may lie, told quickly, against the same told by the distances themselves.
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "placement/field.h"
#include "support/sheets.h"

namespace sheetloupe::placement {
namespace {

// A ragged ring of `corners` about a place; every third one has a hole.
MapFeature ragged(Bits& bits, SheetPoint at, double radius, int corners, bool holed) {
  MapFeature f = polygon_feature(FeatureKind::defect, {});
  for (int i = 0; i < corners; ++i) {
    const double turn = 2 * std::numbers::pi * i / corners, r = radius * bits.from(0.5, 1.0);
    f.polygon.outer.push_back({at.x + r * std::cos(turn), at.y + r * std::sin(turn)});
    if (holed && i < 4) {
      if (i == 0) f.polygon.holes.emplace_back();
      const double quarter = std::numbers::pi / 2 * i;
      f.polygon.holes[0].push_back({at.x + 0.3 * radius * std::cos(quarter), at.y + 0.3 * radius * std::sin(quarter)});
    }
  }
  return f;
}

TEST(PlacementField, ViolatedSaysWhatTheViolationSays) {
  Bits bits(4);
  int yes = 0, no = 0;
  for (int n = 0; n < 300; ++n) {
    const SheetPoint at{bits.from(-5, 5), bits.from(-5, 5)};
    const Obstacle o = obstacle_of(n % 4 == 0 ? pinhole_feature(at, bits.from(0, 4), "F1")
                                              : ragged(bits, at, bits.from(0.3, 12), 3 + n % 60, n % 3 == 0));
    const double outer = bits.from(8, 14);
    const Barrier barrier{&o, n % 5 == 0 ? -1.0 : outer - bits.from(2, 4), outer, false};
    for (int k = 0; k < 200; ++k) {
      const SheetPoint c{bits.from(-30, 30), bits.from(-30, 30)};
      const double mm = k % 2 == 0 ? kRounding : bits.from(-6, 1);
      double gx = 0, gy = 0;
      const double depth = violation(barrier, c, gx, gy);
      if (std::abs(depth - mm) < 1e-9) continue;
      ASSERT_EQ(violated(barrier, c, mm), depth > mm) << n << " " << k << " depth " << depth << " asked " << mm;
      ++(depth > mm ? yes : no);
    }
  }
  EXPECT_GT(yes, 10000);
  EXPECT_GT(no, 10000);
}

// What is grown out of the region is not tested again far inside it.
TEST(PlacementField, AllowedIsInsideTheRegionAndClearOfEveryBarrier) {
  Bits bits(9);
  int yes = 0, no = 0;
  for (int sheet = 0; sheet < 20; ++sheet) {
    Region region{{{{15, 15}, {185, 15}, {185, 135}, {15, 135}}, {}}};
    std::vector<Obstacle> obstacles;
    for (int i = 0; i < 12; ++i) {
      const SheetPoint at{bits.from(0, 200), bits.from(0, 150)};
      obstacles.push_back(obstacle_of(i % 3 == 0 ? pinhole_feature(at, bits.from(0.2, 3), "F1")
                                                 : ragged(bits, at, bits.from(1, 25), 12 + 20 * (i % 4), i % 2 == 0)));
    }
    std::vector<Barrier> barriers;
    Region barred;
    for (const Obstacle& o : obstacles) {
      const bool wide = !o.round() && o.around.radius.value() > 8;
      barriers.push_back({&o, 8, 12, wide});
      if (!wide) continue;
      const Region grown = grow({o.polygon}, 12 + kMargin);
      barred.insert(barred.end(), grown.begin(), grown.end());
    }
    region = subtract(region, barred);
    const Field field(region, barriers, 3.0);
    for (int k = 0; k < 3000; ++k) {
      const SheetPoint c{bits.from(0, 200), bits.from(0, 150)};
      bool inside = false;
      double border = 1e9;
      for (const Polygon& p : region) {
        inside = inside || contains(p, c);
        border = std::min(border, distance_to_ring_mm(p.outer, c));
        for (const Ring& hole : p.holes) border = std::min(border, distance_to_ring_mm(hole, c));
      }
      double gx = 0, gy = 0;
      bool clear = true;
      for (const Barrier& b : barriers) clear = clear && violation(b, c, gx, gy) <= kRounding;
      if (border < 1e-6) continue;
      ASSERT_EQ(field.allowed(c), inside && clear) << sheet << " at " << c.x << " " << c.y;
      ++(inside && clear ? yes : no);
    }
  }
  EXPECT_GT(yes, 2000);
  EXPECT_GT(no, 2000);
}

}  // namespace
}  // namespace sheetloupe::placement
