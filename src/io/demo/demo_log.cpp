// Thirty sheets of the invented workshop, so that the trend page can be seen at once. Everything here is made up.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <random>

#include "sheetloupe/io/demo.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe {
namespace {

constexpr double kWidthMm = 240, kHeightMm = 180, kFlawless = 49;

// Numbers from raw engine bits: the same on every machine.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  double unit() { return (static_cast<double>(engine_() >> 11U) + 0.5) * 0x1p-53; }
  double normal() { return std::sqrt(-2 * std::log(unit())) * std::cos(2 * std::numbers::pi * unit()); }
  int poisson(double mean) {
    int n = 0;
    double p = unit();
    while (p > std::exp(-mean)) {
      p *= unit();
      ++n;
    }
    return n;
  }

 private:
  std::mt19937_64 engine_;
};

double rounded(double v, int digits) {
  const double k = std::pow(10.0, digits);
  return std::round(v * k) / k;
}

std::string date(int number) {
  // A sheet every third day from 5 March 2026 on.
  constexpr int kDays[] = {31, 30, 31, 30, 31};  // March to July
  int day = 5 + 3 * (number - 2), month = 0;
  while (day > kDays[month]) day -= kDays[month++];
  char text[40];
  std::snprintf(text, sizeof text, "2026-%02d-%02d", 3 + month, day);
  return text;
}

struct Recipe {
  double resin_g, resin_c, clamps, cure_h;
  bool glass;
};

Recipe recipe_of(int number, Dice& dice) {
  Recipe r;
  r.resin_g = 290 + 10 * std::floor(5 * dice.unit());
  r.resin_c = number >= 15 && dice.unit() < 0.75 ? 30 : 20;
  r.clamps = 6 + 2 * std::floor(4 * dice.unit());
  r.cure_h = 24 + 6 * std::floor(3 * dice.unit());
  r.glass = dice.unit() < 0.4;
  return r;
}

void put_defects(const Recipe& r, Dice& dice, Inspected& i) {
  const int pinholes = dice.poisson(r.resin_c > 25 ? 3.5 : 8.0), gathered = dice.poisson(r.glass ? 0.6 : 2.4);
  const int dry = dice.poisson(1.4);
  double dry_mm2 = 0;
  int n = 0;
  const auto put = [&](const char* kind, SheetPoint at, double area) {
    const bool front = dice.unit() < 0.7;
    i.defects.push_back({(front ? "F" : "B") + std::to_string(++n), kind, front ? "front" : "back", at,
                         rounded(area, 2), rounded(0.75 + 0.24 * dice.unit(), 2)});
  };
  for (int k = 0; k < dry; ++k) {
    const double area = 25 + 90 * dice.unit();
    dry_mm2 += area;
    put("dry_spot", {10 + 220 * dice.unit(), 10 + 160 * dice.unit()}, area);
  }
  for (int k = 0; k < pinholes; ++k)
    put("pinhole", {kWidthMm * dice.unit(), kHeightMm * dice.unit()}, 0.2 + 0.6 * dice.unit());
  for (int k = 0; k < gathered; ++k)
    put("pinhole", {205 + 30 * dice.unit(), 30 + 40 * dice.unit()}, 0.2 + 0.6 * dice.unit());
  const double resin_mm2 = std::max(0.0, 520 - 40 * r.clamps + 60 * dice.normal());
  if (resin_mm2 > 20) put("resin_rich", {20 + 200 * dice.unit(), 20 + 140 * dice.unit()}, resin_mm2);
  const double faces_mm2 = 2 * kWidthMm * kHeightMm;
  i.measures["pinholes"] = {static_cast<double>(pinholes + gathered), 1.5};
  i.measures["pinholes_per_dm2"] = {(pinholes + gathered) * 1e4 / faces_mm2, 0.2};
  i.measures["dry_spot_percent"] = {100 * dry_mm2 / faces_mm2, 0.05};
  i.measures["resin_rich_percent"] = {100 * resin_mm2 / faces_mm2, 0.05};
  i.barred_percent = {{"pinhole", 0.9 * (pinholes + gathered)}, {"dry_spot", 3.4 * dry}};
  if (resin_mm2 > 20) i.barred_percent["resin_rich"] = 2.0 + resin_mm2 / 120;
}

void put_plan(Dice& dice, double turn, Inspected& i) {
  if (turn > 4) i.barred_percent["weave"] = 9.0;
  double barred = 0;
  for (const auto& [cause, percent] : i.barred_percent) barred += percent;
  // A plan dodges about two thirds of what bars places.
  const int blanks = static_cast<int>(std::lround(kFlawless * (1 - 0.0033 * barred) - 1.2 * dice.unit()));
  for (int k = 0; k < blanks; ++k) {
    char id[40];
    std::snprintf(id, sizeof id, "%s-%02d", i.sheet.c_str(), k + 1);
    const int row = k / 7, column = k % 7;
    i.blanks.push_back({id, k < 14 ? "Lane band" : "stock", {18.0 + 31.0 * column, 18.0 + 24.0 * row}, 30.0});
  }
  i.measures["blanks"] = {static_cast<double>(blanks), {}};
  i.measures["flawless"] = {kFlawless, {}};
  i.measures["ring_yield_percent"] = {100.0 * blanks / kFlawless, {}};
  i.measures["usable_percent"] = {100 - 0.12 * barred, {}};
}

Inspected sheet(int number, Dice& dice) {
  Inspected i;
  char id[40];
  std::snprintf(id, sizeof id, "H-%03d", number);
  i.sheet = id;
  i.made = date(number);
  i.tool = version_text() + ", invented";
  i.rubric = "ring-making";
  i.datum = number % 7 != 0;
  i.width_mm = kWidthMm;
  i.height_mm = kHeightMm;
  const Recipe r = recipe_of(number, dice);
  i.recipe = {{"resin_g", r.resin_g},
              {"resin_c", r.resin_c},
              {"clamps", r.clamps},
              {"cure_h", r.cure_h},
              {"mould", std::string(r.glass ? "glass plate" : "coated board")},
              {"fabric", std::string("twill-2x2-6k-343")},
              {"plies_laid", 12.0}};
  put_defects(r, dice, i);
  const double turn = number == 30 ? 5.3 : 2.3 + 0.35 * dice.normal();
  put_plan(dice, turn, i);
  i.measures["tow_turn_p95_deg"] = {turn, 0.2};
  i.measures["shear_p95_deg"] = {0.8 * turn + 0.2 * dice.unit(), 0.3};
  i.measures["thickness_mm"] = {6.05 + 0.06 * dice.normal() + 0.0015 * (r.resin_g - 310), 0.05};
  i.measures["judged_percent"] = {97 + 3 * dice.unit(), {}};
  i.measures["smallest_pinhole_mm"] = {0.5, {}};
  for (auto& [name, figure] : i.measures) figure.value = rounded(figure.value, 3);
  for (auto& [cause, percent] : i.barred_percent) percent = rounded(percent, 2);
  const double pinholes = i.measures["pinholes_per_dm2"].value;
  i.grade = turn > 5 || pinholes > 4 ? "C" : turn > 3 || pinholes > 1 ? "B" : "A";
  i.content_sha256 = sha256_hex("invented " + i.sheet);
  i.report = "{\"schema_version\":1,\"invented\":true}";
  return i;
}

}  // namespace

std::vector<Inspected> demo_log_sheets() {
  Dice dice(20260305);
  std::vector<Inspected> sheets;
  for (int number = 2; number <= 30; ++number) sheets.push_back(sheet(number, dice));
  return sheets;
}

std::vector<LogOutcome> demo_log_outcomes(const std::vector<Inspected>& sheets) {
  Dice dice(41);
  std::vector<LogOutcome> outcomes;
  for (const Inspected& s : sheets) {
    if (s.sheet > "H-026") continue;  // the newest are still to be turned
    for (const LoggedBlank& b : s.blanks) {
      const double u = dice.unit();
      const char* result = u < 0.018   ? "pinhole"
                           : u < 0.026 ? "void"
                           : u < 0.032 ? "turning"
                           : u < 0.036 ? "saw"
                                       : "good";
      outcomes.push_back({s.sheet, b.id, result, "", s.made + "T18:00:00Z"});
    }
  }
  return outcomes;
}

}  // namespace sheetloupe
