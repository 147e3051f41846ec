#include <gtest/gtest.h>

#include "outline/material.h"

namespace sheetloupe::outline {
namespace {

Jump table() {
  Jump jump;
  jump.table_seen = true;
  jump.table_light = 0.15;
  jump.table_colour = 0.009;
  return jump;
}

TEST(MaterialEnd, NoJumpIsNone) {
  EXPECT_FALSE(is_material_end({}, false));
  EXPECT_FALSE(is_material_end(table(), true));
}

// The strongest that a shadow's end turned the table's colour on rendered sheets; a little of it aside of the cloth's.
// In that shadow the trimmed weave looked ragged.
TEST(MaterialEnd, AShadowsEndIsNoneHoweverTheWeaveInsideLooks) {
  Jump shadow = table();
  shadow.light = 0.30;
  shadow.colour = 0.024;
  shadow.other_colour = 0.0113;
  EXPECT_FALSE(is_material_end(shadow, false));
  EXPECT_FALSE(is_material_end(shadow, true));
}

TEST(MaterialEnd, ResinIsOneBeyondRaggedWeaveWhereItTurnsTheColourAside) {
  Jump resin = table();
  resin.light = 0.04;
  resin.colour = resin.other_colour = 0.0184;
  EXPECT_TRUE(is_material_end(resin, true));
  EXPECT_FALSE(is_material_end(resin, false)) << "too faint beside a trimmed side";
}

TEST(MaterialEnd, ClearResinIsOneBeyondRaggedWeaveByItsLightAlone) {
  Jump clear = table();
  clear.light = 0.25;
  clear.table_light = 0.008;
  EXPECT_TRUE(is_material_end(clear, true));
}

TEST(MaterialEnd, AStrongTurnAsideIsOneBesideATrimmedSide) {
  Jump resin = table();
  resin.colour = resin.other_colour = 0.05;
  EXPECT_TRUE(is_material_end(resin, false));
  resin.table_colour = 0.03;
  EXPECT_FALSE(is_material_end(resin, false)) << "the table's own colours change as much";
}

}  // namespace
}  // namespace sheetloupe::outline
