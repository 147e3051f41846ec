// What costs blanks, before and after drilling; where defects gather; whether forecasts hold.
#include <algorithm>
#include <cmath>
#include <map>

#include "io/trend/parts.h"
#include "sheetloupe/trend.h"

namespace sheetloupe::trend_page_parts {
namespace {

Json bars_json(const std::vector<ParetoBar>& bars, int digits) {
  Json list = Json::array();
  for (const ParetoBar& b : bars)
    list.push_back({{"cause", b.cause},
                    {"words", cause_words(b.cause)},
                    {"amount", figure(b.amount, digits)},
                    {"running_percent", figure(b.running_percent, 1)}});
  return list;
}

// A thing to try for each cause; common practice, no source.
std::string advice_for(const std::string& cause) {
  static const std::map<std::string, std::string> advice = {
      {"dry_spot", "Look at wet-out first: resin warmth, roller passes, resin per cloth."},
      {"pinhole", "Look at air first: warm the resin, stir it slowly, press evenly, let it rest before closing."},
      {"resin_rich", "Look at pressure first: boards that bend and clamps far apart leave pools."},
      {"weave", "Look at laying first: cut square, smooth from the middle, do not drag the cloth."},
      {"not_judged", "Move the lamp and photograph again: these places may be sound."},
      {"split", "Look at the saw's exit first: back the sheet and drill wet and slowly."},
      {"void", "A photo cannot see these. Tap the sheet, and look at the cut plugs of that area."},
      {"thin", "Measure the thickness at the corners and put it into sheet.json."},
      {"saw", "Clamp the sheet on its board and start the saw with a guide."},
      {"turning", "Take smaller cuts, or ask for a wider wall in the orders."}};
  const auto it = advice.find(cause);
  return it == advice.end() ? "" : it->second;
}

std::string capital(std::string s) {
  if (!s.empty()) s[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(s[0])));
  return s;
}

}  // namespace

Json barred(const std::vector<LogRow>& rows) {
  std::map<std::string, double> places;
  int sheets = 0;
  for (const LogRow& row : rows) {
    const auto flawless = row.inspected.measures.find("flawless");
    if (flawless == row.inspected.measures.end()) continue;
    ++sheets;
    for (const auto& [cause, percent] : row.inspected.barred_percent)
      if (cause != "taken") places[cause] += percent / 100 * flawless->second.value;
  }
  const auto bars = pareto({places.begin(), places.end()});
  Json json = {{"enough", !bars.empty()}, {"sheets", sheets}, {"bars", bars_json(bars, 1)}};
  if (bars.empty()) {
    json["reason"] = sheets == 0 ? "no rings were planned on these sheets" : "nothing barred a ring place";
    json["sentence"] =
        sheets == 0 ? "Plan rings with sheetloupe place, then add the folder again." : "Nothing barred a ring place.";
    return json;
  }
  double total = 0.0;
  for (const ParetoBar& b : bars) total += b.amount;
  json["total"] = figure(total, 0);
  json["sentence"] = capital(cause_words(bars[0].cause)) + " bars the most: " + text(100 * bars[0].amount / total, 0) +
                     " % of what is barred. " + advice_for(bars[0].cause);
  return json;
}

Json spoiled(const std::vector<LogOutcome>& outcomes) {
  std::map<std::string, std::string> last;
  for (const LogOutcome& o : outcomes) last[o.blank] = o.result;
  std::map<std::string, double> counts;
  for (const auto& [blank, result] : last)
    if (result != "good") ++counts[result];
  const auto bars = pareto({counts.begin(), counts.end()});
  Json json = {{"enough", !bars.empty()}, {"blanks", last.size()}, {"bars", bars_json(bars, 0)}};
  if (bars.empty()) {
    json["reason"] = last.empty() ? "no outcome was logged yet" : "no blank was spoiled";
    json["sentence"] =
        last.empty() ? "After turning, say what became of the blanks: sheetloupe log outcome --rest H-014 --was good."
                     : "No blank was spoiled.";
    return json;
  }
  json["sentence"] = capital(cause_words(bars[0].cause)) + " cost the most blanks: " + text(bars[0].amount, 0) +
                     " of " + std::to_string(last.size()) + ". " + advice_for(bars[0].cause);
  return json;
}

namespace {

// Crowded cells that touch, as one place: its box in mm and what lies there.
struct Crowd {
  int c0 = 0, r0 = 0, c1 = 0, r1 = 0, count = 0;
  double expected = 0.0;
};

std::vector<Crowd> crowds(const DensityMap& map) {
  std::vector<Crowd> list;
  std::vector<bool> seen(map.cells.size(), false);
  const auto at = [&](int c, int r) { return static_cast<std::size_t>(r) * map.columns + c; };
  for (int r = 0; r < map.rows; ++r) {
    for (int c = 0; c < map.columns; ++c) {
      if (seen[at(c, r)] || !map.cells[at(c, r)].crowded) continue;
      Crowd crowd{c, r, c, r, 0, 0.0};
      std::vector<std::pair<int, int>> open = {{c, r}};
      seen[at(c, r)] = true;
      while (!open.empty()) {
        const auto [x, y] = open.back();
        open.pop_back();
        crowd.c0 = std::min(crowd.c0, x), crowd.c1 = std::max(crowd.c1, x);
        crowd.r0 = std::min(crowd.r0, y), crowd.r1 = std::max(crowd.r1, y);
        crowd.count += map.cells[at(x, y)].count;
        crowd.expected += map.cells[at(x, y)].expected;
        for (const auto& [dx, dy] : {std::pair(1, 0), {-1, 0}, {0, 1}, {0, -1}}) {
          const int nx = x + dx, ny = y + dy;
          if (nx < 0 || ny < 0 || nx >= map.columns || ny >= map.rows) continue;
          if (seen[at(nx, ny)] || !map.cells[at(nx, ny)].crowded) continue;
          seen[at(nx, ny)] = true;
          open.emplace_back(nx, ny);
        }
      }
      list.push_back(crowd);
    }
  }
  std::stable_sort(list.begin(), list.end(), [](const Crowd& a, const Crowd& b) { return a.count > b.count; });
  return list;
}

std::string density_sentence(const DensityMap& map) {
  if (map.sheets < kLeastSheets)
    return "Not enough sheets yet: " + std::to_string(map.sheets) + " of " + std::to_string(kLeastSheets) + ".";
  const auto list = crowds(map);
  if (list.empty())
    return "No place stands out: the defects lie as chance would spread them. The mould is not the lead to follow.";
  const Crowd& c = list.front();
  const auto mm = [&](int cell) { return text(cell * map.cell_mm, 0); };
  return "Between x " + mm(c.c0) + " and " + mm(c.c1 + 1) + " mm, y " + mm(c.r0) + " and " + mm(c.r1 + 1) +
         " mm from the datum corner lie " + std::to_string(c.count) + " defects where " + text(c.expected, 0) +
         " would be even. Look at board, clamps and wet-out there first.";
}

}  // namespace

Json density(const std::vector<LogRow>& rows) {
  constexpr double kLikely = 0.5;  // what is rather dust than defect is left out
  std::vector<DensitySheet> sheets;
  for (const LogRow& row : rows) {
    DensitySheet s{row.inspected.datum, row.inspected.width_mm, row.inspected.height_mm, {}};
    for (const LoggedDefect& d : row.inspected.defects)
      if (d.confidence >= kLikely) s.defects.push_back(d.at);
    sheets.push_back(std::move(s));
  }
  const DensityMap map = density_map(sheets);
  Json json = {{"enough", map.sheets > 0 && map.defects > 0},
               {"sheets", map.sheets},
               {"left_out", map.left_out},
               {"defects", map.defects},
               {"cell_mm", figure(map.cell_mm, 2)},
               {"columns", map.columns},
               {"rows", map.rows},
               {"cells", Json::array()}};
  for (const DensityCell& c : map.cells)
    json["cells"].push_back({{"count", c.count}, {"expected", figure(c.expected, 2)}, {"crowded", c.crowded}});
  json["sentence"] =
      map.sheets == 0
          ? "Give \"top\": \"strip-0\" in sheet.json: without it the frame follows the phone, and sheets cannot "
            "be laid on one another."
          : density_sentence(map);
  return json;
}

Json forecast(const std::vector<LogRow>& rows) {
  std::vector<ForecastSheet> sheets;
  Json points = Json::array();
  for (const LogRow& row : rows) {
    sheets.push_back({row.blanks, row.good, row.bad});
    if (row.good + row.bad > 0)
      points.push_back(
          {{"sheet", row.inspected.sheet}, {"planned", row.blanks}, {"good", row.good}, {"spoiled", row.bad}});
  }
  const ForecastCheck check = forecast_check(sheets);
  Json json = {{"enough", check.sheets > 0}, {"sheets", check.sheets}, {"judged", check.judged}, {"good", check.good}};
  if (check.sheets == 0) {
    json["reason"] = "no outcome was logged yet";
    json["sentence"] =
        "Every blank of a plan is forecast as good. Log what became of them, and this will tell how often that held.";
    return json;
  }
  json["percent"] = figure(check.percent, 1);
  json["low"] = figure(check.low, 1);
  json["high"] = figure(check.high, 1);
  constexpr std::size_t kShown = 60;
  if (points.size() > kShown) points.erase(points.begin(), points.end() - kShown);
  json["points"] = points;
  json["sentence"] =
      "The plan called all " + std::to_string(check.judged) + " good; " + std::to_string(check.good) +
      " were: " + text(check.percent, 1) + " % (" + text(check.low, 1) + " to " + text(check.high, 1) +
      ", were the blanks independent). " +
      (check.high < 95.0
           ? "More than one in twenty is lost to what the photos did not show: photograph closer, and both faces."
           : "Plan " + std::to_string(static_cast<int>(std::ceil(100 - check.low))) + " spare blanks in a hundred.");
  return json;
}

}  // namespace sheetloupe::trend_page_parts
