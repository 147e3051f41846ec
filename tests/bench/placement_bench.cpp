// Placement against the best-known packings of equal circles in a square, and on spoiled sheets.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <string>
#include <vector>

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

// Packings of N equal circles in the unit square: N and the record's radius, in order of N.
std::vector<std::pair<int, double>> records() {
  std::ifstream file(std::string(TEST_DATA) + "/packing_best_known.csv");
  std::vector<std::pair<int, double>> list;
  std::string line;
  int n = 0;
  double radius = 0;
  while (std::getline(file, line)) {
    if (std::sscanf(line.c_str(), "%d,%lf", &n, &radius) == 2) list.emplace_back(n, radius);
  }
  return list;
}

// Empty 300 x 300, every diameter from 31 to 60 mm in quarters: how many cases reach the table, and how many lack one.
void table_of_empty_squares(benchmark::State& state) {
  const auto table = records();
  int reached = 0, one_short = 0, worse = 0;
  for (auto _ : state) {
    for (int quarter = 4 * 31; quarter <= 4 * 60; ++quarter) {
      const double diameter = quarter / 4.0;
      int best = 0;
      for (const auto& [n, radius] : table) {
        if (600 * radius >= diameter) best = n;
      }
      const auto placed =
          static_cast<int>(place_blanks(rectangle_sheet(300, 300), fill_orders(diameter, 6, 1)).blanks.size());
      ++(placed >= best ? reached : placed + 1 == best ? one_short : worse);
      if (placed < best) std::fprintf(stderr, "D %.2f: %d of %d\n", diameter, placed, best);
    }
  }
  state.counters["at_table"] = reached;
  state.counters["one_short"] = one_short;
  state.counters["worse"] = worse;
}
BENCHMARK(table_of_empty_squares)->Unit(benchmark::kSecond)->Iterations(1);

// Circles 0.5 % below the record of N = 20 to 100: how many cases hold N.
void records_less_half_a_percent(benchmark::State& state) {
  int held = 0, cases = 0;
  for (auto _ : state) {
    for (const auto& [n, radius] : records()) {
      if (n < 20) continue;
      ++cases;
      const auto placed = static_cast<int>(
          place_blanks(rectangle_sheet(300, 300), fill_orders(600 * radius * 0.995, 6, 1)).blanks.size());
      held += placed >= n ? 1 : 0;
      if (placed < n) std::fprintf(stderr, "N %d: %d\n", n, placed);
    }
  }
  state.counters["held"] = held;
  state.counters["cases"] = cases;
}
BENCHMARK(records_less_half_a_percent)->Unit(benchmark::kSecond)->Iterations(1);

Orders realistic_rings() {
  Orders orders = fill_orders(30);
  orders.web_mm = 2;
  orders.edge_margin_mm = 5;
  orders.turning_allowance_mm = 0.5;
  orders.template_mm = 0.4;
  orders.saws[0].kerf_mm = 1.5;
  return orders;
}

// Sheets of two kinds, what the default work finds and what fifteen times as much finds.
void fifteen_times_the_work(benchmark::State& state) {
  constexpr int kSheets = 8;
  double gap = 0;
  int worst = 0;
  for (auto _ : state) {
    for (int sheet = 0; sheet < kSheets; ++sheet) {
      const bool heavy = sheet % 2 != 0;
      const UsableMap map =
          spoiled_sheet(200 + static_cast<std::uint64_t>(sheet), 300, 300, heavy ? 60 : 30, heavy ? 8 : 5);
      PlacementOptions options;
      const auto some = static_cast<int>(place_blanks(map, realistic_rings(), options).blanks.size());
      options.evaluations = 15 * kDefaultEvaluations;
      const auto most = static_cast<int>(place_blanks(map, realistic_rings(), options).blanks.size());
      std::fprintf(stderr, "%s sheet: %d, fifteen times the work %d\n", heavy ? "heavy" : "medium", some, most);
      gap += 100.0 * (most - some) / most / kSheets;
      worst = std::max(worst, most - some);
    }
  }
  state.counters["mean_gap_percent"] = gap;
  state.counters["worst_blanks"] = worst;
}
BENCHMARK(fifteen_times_the_work)->Unit(benchmark::kSecond)->Iterations(1);

// Blanks when only the annulus is kept clear, the whole ring's disc, or the whole saw circle.
void worth_of_the_core(benchmark::State& state) {
  const int pinholes = static_cast<int>(state.range(0)), spots = static_cast<int>(state.range(1));
  const Orders orders = realistic_rings();
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
