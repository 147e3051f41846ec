#include "sheetloupe/laminate.h"

#include <gtest/gtest.h>

#include <string>

namespace sheetloupe {
namespace {

EdgeReading counted(const std::string& side, int low, int high) {
  EdgeReading edge;
  edge.side = side;
  edge.verdict = low == high ? PlyVerdict::sure : PlyVerdict::between;
  if (low == high) edge.plies = low;
  edge.plies_range = {low, high};
  edge.px_per_ply = 25;
  return edge;
}

EdgeReading unread(const std::string& side) {
  EdgeReading edge;
  edge.side = side;
  edge.verdict = PlyVerdict::cannot_tell;
  return edge;
}

const Fabric kCloth{"twill-2x2-3k-200", WeavePattern::twill_2x2, 198, 200, 1.76};

TEST(Laminate, WithoutEdgePhotosThereIsNoCountAndTheReasonSaysSo) {
  const Laminate laminate = read_laminate({}, kCloth, Measured{2.5, 0.1});
  EXPECT_FALSE(laminate.plies || laminate.fibre_fraction);
  EXPECT_NE(laminate.reason.find("photographed"), std::string::npos);
}

TEST(Laminate, OneSureEdgeGivesTheFractionWithItsInterval) {
  const Laminate laminate = read_laminate({counted("top", 10, 10)}, kCloth, Measured{2.5, 0.1});
  ASSERT_TRUE(laminate.fibre_fraction);
  EXPECT_EQ(laminate.plies, 10);
  EXPECT_NEAR(*laminate.fibre_fraction, 0.4545, 5e-5);
  // Cloth 4 %, thickness 0.1 in 2.5 mm 4 %: together 5.66 %.
  EXPECT_NEAR(*laminate.fibre_fraction_u95, 0.4545 * 0.0566, 2e-4);
  EXPECT_FALSE(laminate.reads_as.empty());
}

TEST(Laminate, CannotTellGivesNoFraction) {
  const Laminate laminate = read_laminate({unread("top")}, kCloth, Measured{2.5, 0.1});
  EXPECT_FALSE(laminate.fibre_fraction || laminate.fibre_fraction_range);
  EXPECT_FALSE(laminate.reason.empty());
}

TEST(Laminate, TwoNeighbouringCountsGiveAnIntervalThatHoldsBoth) {
  const Laminate laminate = read_laminate({counted("top", 10, 11)}, kCloth, Measured{2.5, 0.1});
  EXPECT_FALSE(laminate.plies || laminate.fibre_fraction);
  ASSERT_TRUE(laminate.fibre_fraction_range);
  EXPECT_LT((*laminate.fibre_fraction_range)[0], 0.4545);
  EXPECT_GT((*laminate.fibre_fraction_range)[1], 0.5);
}

TEST(Laminate, ASureEdgeSettlesAnEdgeThatLeavesTwoCounts) {
  EXPECT_EQ(read_laminate({counted("top", 10, 11), counted("left", 11, 11)}, kCloth, Measured{2.5, 0.1}).plies, 11);
}

TEST(Laminate, EdgesThatDisagreeGiveNoCountAndARemarkWithTheEvidence) {
  const std::vector<EdgeReading> edges = {counted("top", 11, 11), unread("right"), counted("left", 12, 12)};
  const Laminate laminate = read_laminate(edges, kCloth, Measured{2.5, 0.1});
  EXPECT_FALSE(laminate.plies || laminate.fibre_fraction || laminate.plies_range);
  const auto remark = compare_edges(edges);
  ASSERT_TRUE(remark);
  for (const char* part : {"top edge shows 11", "left edge shows 12", "stops short", "misread"})
    EXPECT_NE(remark->find(part), std::string::npos) << *remark;
}

TEST(Laminate, EdgesThatCanAgreeAreNotRemarkedOn) {
  EXPECT_FALSE(compare_edges({counted("top", 11, 12), counted("left", 12, 12), unread("right")}));
  EXPECT_FALSE(compare_edges({}));
}

TEST(Laminate, UnknownClothOrThicknessIsNamedAsTheReason) {
  EXPECT_NE(read_laminate({counted("top", 10, 10)}, {}, Measured{2.5, 0.1}).reason.find("fabric"), std::string::npos);
  EXPECT_NE(read_laminate({counted("top", 10, 10)}, kCloth, {}).reason.find("thickness_mm"), std::string::npos);
}

// n A / (rho h): lecture "Fibre Volume Fraction and Laminate Thickness" (Scribd 266491147), the rule of ASTM D3171
// Method II. Worked figures with fibre densities of a PAN data sheet (CFA-001, 1.76) and with 1.80, resin 1.15 g/cm3.
TEST(Laminate, EdgesWithAFlushStripGiveTheThicknessWhenNoCaliperDid) {
  EdgeReading by_strip = counted("top", 12, 12), by_caliper = counted("left", 12, 12), with_face = by_strip;
  EXPECT_FALSE(thickness_by_strips({by_caliper}));
  by_strip.scale_source = with_face.scale_source = EdgeScaleSource::strip;
  by_strip.strip_thickness_mm = Measured{6.0, 0.06};
  with_face.strip_thickness_mm = Measured{9.0, 0.06};
  with_face.face_visible = true;
  EdgeReading other = by_strip;
  other.strip_thickness_mm = Measured{6.2, 0.08};
  const auto thickness = thickness_by_strips({by_strip, by_caliper, with_face, other});
  ASSERT_TRUE(thickness);
  EXPECT_NEAR(thickness->value, 6.1, 1e-12);
  EXPECT_DOUBLE_EQ(thickness->u95, 0.08);
}

TEST(Laminate, WorkedFibreFractionsComeOut) {
  struct Worked {
    double plies, areal, fibre, thickness, volume, weight, density;
  };
  const Worked all[] = {{10, 200, 1.76, 2.5, 0.4545, 0.5605, 1.4273}, {10, 200, 1.76, 2.841, 0.4000, 0.5050, 1.3940},
                        {12, 200, 1.76, 3.0, 0.4545, 0.5605, 1.4273}, {8, 245, 1.76, 2.4, 0.4640, 0.5699, 1.4330},
                        {14, 204, 1.76, 3.0, 0.5409, 0.6433, 1.4800}, {20, 200, 1.76, 5.0, 0.4545, 0.5605, 1.4273},
                        {5, 600, 1.8, 3.2, 0.5208, 0.6298, 1.4885}};
  for (const Worked& w : all) {
    const double volume = fibre_volume_fraction(w.plies, w.areal, w.fibre, w.thickness);
    EXPECT_NEAR(volume, w.volume, 6e-5);
    EXPECT_NEAR(fibre_weight_fraction(volume, w.fibre, 1.15), w.weight, 6e-5);
    EXPECT_NEAR(laminate_density(volume, w.fibre, 1.15), w.density, 6e-5);
  }
}

// Same source: 1.79 and 1.25 g/cm3 with a volume fraction of 0.58 give a weight fraction of 0.6642.
TEST(Laminate, WeightFractionOfAPublishedPairComesOut) {
  EXPECT_NEAR(fibre_weight_fraction(0.58, 1.79, 1.25), 0.6642, 5e-5);
}

// A loose hand lay-up of medium cloth takes about 0.55 mm a ply: common practice, no source. With 300 g/m2 it must
// read as credible, with 200 as very resin-rich.
TEST(Laminate, TheTradesRuleOfThumbReadsAsItIsMeant) {
  Fabric medium = kCloth;
  medium.areal_g_m2 = 300;
  EXPECT_NE(read_laminate({counted("top", 10, 10)}, medium, Measured{5.5, 0.1}).reads_as.find("hand lay-up"),
            std::string::npos);
  EXPECT_NE(read_laminate({counted("top", 10, 10)}, kCloth, Measured{5.5, 0.1}).reads_as.find("resin-rich"),
            std::string::npos);
}

TEST(Laminate, AFractionThatNoClothReachesIsCalledAnError) {
  EXPECT_NE(read_laminate({counted("top", 10, 10)}, kCloth, Measured{1.4, 0.05}).reads_as.find("Not credible"),
            std::string::npos);
  EXPECT_NE(read_laminate({counted("top", 3, 3)}, kCloth, Measured{6.0, 0.05}).reads_as.find("Not credible"),
            std::string::npos);
}

}  // namespace
}  // namespace sheetloupe
