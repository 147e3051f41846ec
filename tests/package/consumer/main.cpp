// Somebody else's program on the installed library: one blank on a plain square sheet.
#include <cstdio>

#include "sheetloupe/placement.h"

int main() {
  sheetloupe::UsableMap map;
  map.sheet_id = "H-001";
  map.features.push_back({});
  map.features[0].polygon.outer = {{0, 0}, {40, 0}, {40, 40}, {0, 40}};
  sheetloupe::Orders orders;
  orders.rings = {{"A", 18.2, 2.0, 5.0, 1}};
  orders.saws = {{"30", 30.0, 1.5}};
  const sheetloupe::Plan plan = sheetloupe::place_blanks(map, orders);
  std::printf("%zu blank\n", plan.blanks.size());
  return plan.blanks.size() == 1 ? 0 : 1;
}
