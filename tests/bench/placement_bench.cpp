// Placement against the best-known packings of equal circles in a square, and on spoiled sheets.
#include <benchmark/benchmark.h>

#include <cstdio>

#include "sheetloupe/placement.h"
#include "support/sheets.h"

namespace {

using namespace sheetloupe;

void empty_sheet(benchmark::State& state) {
  const double diameter = static_cast<double>(state.range(0));
  std::size_t placed = 0;
  for (auto _ : state) placed = place_blanks(rectangle_sheet(300, 300), fill_orders(diameter, 8, 2)).blanks.size();
  state.counters["blanks"] = static_cast<double>(placed);
}
BENCHMARK(empty_sheet)->Arg(32)->Arg(38)->Arg(45)->Unit(benchmark::kMillisecond)->Iterations(1);

// Blanks when only the annulus is kept clear, the whole ring's disc, or the whole saw circle.
void worth_of_the_core(benchmark::State& state) {
  const int pinholes = static_cast<int>(state.range(0)), spots = static_cast<int>(state.range(1));
  Orders orders = fill_orders(30);
  orders.web_mm = 2;
  orders.edge_margin_mm = 5;
  orders.turning_allowance_mm = 0.5;
  orders.template_mm = 0.4;
  orders.saws[0].kerf_mm = 1.5;
  double sums[3] = {0, 0, 0};
  constexpr int kSheets = 4;
  for (auto _ : state) {
    for (int sheet = 0; sheet < kSheets; ++sheet) {
      const UsableMap map = spoiled_sheet(100 + static_cast<std::uint64_t>(sheet), 300, 300, pinholes, spots);
      PlacementOptions options;
      for (const Harm harm : {Harm::whole_circle, Harm::disc, Harm::annulus}) {
        options.harm = harm;
        const Plan plan = place_blanks(map, orders, options);
        sums[static_cast<int>(harm)] += static_cast<double>(plan.blanks.size()) / kSheets;
        options.start.clear();
        for (const Blank& b : plan.blanks) options.start.push_back(b.centre);
      }
    }
  }
  state.counters["annulus"] = sums[0];
  state.counters["disc"] = sums[1];
  state.counters["whole_circle"] = sums[2];
}
BENCHMARK(worth_of_the_core)->Args({10, 3})->Args({30, 5})->Args({60, 8})->Unit(benchmark::kSecond)->Iterations(1);

}  // namespace
