// What moved with the recipe: every key against every measure, judged together.
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "io/trend/parts.h"
#include "sheetloupe/trend.h"

namespace sheetloupe::trend_page_parts {
namespace {

struct Pair {
  std::string key, label;  // "clamps", "clamps, each 2 more"
  const Charted* measure = nullptr;
  double step = 1.0;  // in the key's unit; 1 for groups
  double scatter = 1.0;
  bool group = false;
  Effect effect;
};

// 1, 2 or 5 times a power of ten, near `x`: a step that a maker would take.
double round_step(double x) {
  const double power = std::pow(10.0, std::floor(std::log10(x)));
  const double m = x / power;
  return power * (m < 1.5 ? 1 : m < 3.5 ? 2 : m < 7.5 ? 5 : 10);
}

double scatter_of(const std::vector<double>& v) {
  double mean = 0.0, sum = 0.0;
  for (const double x : v) mean += x / static_cast<double>(v.size());
  for (const double x : v) sum += (x - mean) * (x - mean);
  return v.size() > 1 ? std::sqrt(sum / static_cast<double>(v.size() - 1)) : 0.0;
}

std::string plain(double value) {
  char buffer[40];
  std::snprintf(buffer, sizeof buffer, "%.6g", value);
  return buffer;
}

using Column = std::vector<std::optional<RecipeValue>>;

std::map<std::string, Column> columns_of(const std::vector<LogRow>& rows) {
  std::map<std::string, Column> columns;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    for (const auto& [key, value] : rows[i].inspected.recipe) {
      if (key == "note") continue;
      Column& c = columns[key];
      c.resize(rows.size());
      c[i] = value;
    }
  }
  return columns;
}

bool numeric(const Column& column) {
  return std::all_of(column.begin(), column.end(),
                     [](const auto& v) { return !v || std::holds_alternative<double>(*v); });
}

void add_slope(const std::vector<LogRow>& rows, const std::string& key, const Column& column, const Charted& m,
               std::vector<Pair>& pairs) {
  std::vector<double> x, y;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto it = rows[i].inspected.measures.find(m.name);
    if (!column[i] || it == rows[i].inspected.measures.end()) continue;
    x.push_back(std::get<double>(*column[i]));
    y.push_back(it->second.value);
  }
  Pair p;
  p.key = key;
  p.measure = &m;
  p.effect = slope_effect(x, y);
  const double spread = scatter_of(x);
  p.step = spread > 0 ? round_step(spread) : 1.0;
  p.scatter = scatter_of(y);
  p.label = recipe_words(key) + ", each " + plain(p.step) + " more";
  pairs.push_back(std::move(p));
}

// Text is compared level by level: the sheets with it against those with another.
void add_groups(const std::vector<LogRow>& rows, const std::string& key, const Column& column, const Charted& m,
                std::vector<Pair>& pairs) {
  std::map<std::string, std::vector<double>> levels;
  std::vector<double> all;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto it = rows[i].inspected.measures.find(m.name);
    if (!column[i] || it == rows[i].inspected.measures.end()) continue;
    const auto* number = std::get_if<double>(&*column[i]);
    levels[number ? plain(*number) : std::get<std::string>(*column[i])].push_back(it->second.value);
    all.push_back(it->second.value);
  }
  constexpr std::size_t kMostLevels = 8;  // beyond, it is rather a remark than a choice
  if (levels.size() < 2 || levels.size() > kMostLevels) return;
  for (const auto& [level, with] : levels) {
    std::vector<double> without;
    for (const auto& [other, values] : levels)
      if (other != level) without.insert(without.end(), values.begin(), values.end());
    Pair p;
    p.key = key;
    p.label = recipe_words(key) + ": " + level;
    p.measure = &m;
    p.group = true;
    p.effect = group_effect(with, without);
    p.scatter = scatter_of(all);
    pairs.push_back(std::move(p));
    if (levels.size() == 2) break;  // the other one says the same
  }
}

// Keys that changed together cannot be told apart.
std::string tangled(const std::map<std::string, Column>& columns, const std::string& key) {
  constexpr double kTogether = 0.7;  // correlation; half the scatter is then common
  const Column& a = columns.at(key);
  if (!numeric(a)) return "";
  std::string with;
  for (const auto& [other, b] : columns) {
    if (other == key || !numeric(b)) continue;
    // Resin weight and resin per cloth are two names for one thing.
    if ((key == "resin_g" && other == "resin_per_cloth") || (key == "resin_per_cloth" && other == "resin_g")) continue;
    std::vector<double> x, y;
    for (std::size_t i = 0; i < a.size(); ++i) {
      if (!a[i] || !b[i]) continue;
      x.push_back(std::get<double>(*a[i]));
      y.push_back(std::get<double>(*b[i]));
    }
    const Effect e = slope_effect(x, y);
    if (e.enough && std::abs(e.standard) > kTogether) with += (with.empty() ? "" : ", ") + recipe_words(other);
  }
  return with;
}

std::string change_text(const Pair& p, double v) {
  return text(v * p.step, measure_name(p.measure->name).digits, true);
}

Json row_json(const Pair& p, bool stands, const std::string& with) {
  const Effect& e = p.effect;
  const MeasureName& name = measure_name(p.measure->name);
  Json json = {{"key", p.key},
               {"label", p.label},
               {"measure", p.measure->name},
               {"words", p.measure->words},
               {"unit", name.unit},
               {"digits", name.digits},
               {"sheets", e.sheets},
               {"step", p.step},
               {"change", figure(e.value * p.step, 4)},
               {"low", figure(e.low * p.step, 4)},
               {"high", figure(e.high * p.step, 4)},
               {"scatter", figure(p.scatter, 4)},
               {"p", figure(e.p, 5)},
               {"standard", figure(e.standard, 2)},
               {"standard_is", p.group ? "Hedges g" : "correlation"},
               {"reads", stands ? "moves with it" : "cannot tell yet"}};
  if (!with.empty()) json["changed_with"] = with;
  if (!stands) return json;
  const bool good = e.value * p.measure->better > 0;
  std::string sentence = p.label + ": " + p.measure->words + " " + change_text(p, e.value) + " (" +
                         change_text(p, e.low) + " to " + change_text(p, e.high) + ")" +
                         (name.unit[0] ? " " + std::string(name.unit) : "") + " over " + std::to_string(e.sheets) +
                         " sheets.";
  sentence[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(sentence[0])));
  if (!with.empty())
    sentence += " It changed together with " + with + ", so this log cannot tell which of them it was.";
  sentence += p.measure->better == 0 ? " A lead, not proof."
              : good ? " A lead, not proof: make three sheets with more of this, all else alike, and look again."
                     : " A lead, not proof: make three sheets with less of this, all else alike, and look again.";
  if (p.group)
    sentence = sentence.substr(0, sentence.rfind(" A lead")) + " A lead, not proof: make three sheets " +
               (good ? "with it and three without" : "without it and three with it") +
               ", all else alike, and look again.";
  json["sentence"] = sentence;
  return json;
}

}  // namespace

Json effects(const std::vector<LogRow>& rows) {
  const auto columns = columns_of(rows);
  std::vector<Pair> pairs;
  for (const auto& [key, column] : columns) {
    for (const Charted& m : charted()) {
      if (numeric(column))
        add_slope(rows, key, column, m, pairs);
      else
        add_groups(rows, key, column, m, pairs);
    }
  }
  const std::size_t tried = pairs.size();
  std::erase_if(pairs, [](const Pair& p) { return !p.effect.enough; });
  std::stable_sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) { return a.effect.p < b.effect.p; });
  std::vector<double> p;
  for (const Pair& pair : pairs) p.push_back(pair.effect.p);
  const std::vector<bool> named = stand_out(p);
  Json json = {{"enough", !pairs.empty()}, {"tried", tried}, {"judged", pairs.size()}, {"rows", Json::array()}};
  if (pairs.empty()) {
    json["reason"] =
        rows.size() < static_cast<std::size_t>(kLeastSheets)
            ? "not enough sheets yet: " + std::to_string(rows.size()) + " of " + std::to_string(kLeastSheets)
            : "the recipes say nothing that changed";
    json["sentence"] = "Write the recipe into sheet.json, and change one thing at a time.";
    return json;
  }
  constexpr std::size_t kNamed = 8, kOpen = 4;  // rows shown
  std::size_t shown_named = 0, shown_open = 0;
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    std::size_t& shown = named[i] ? shown_named : shown_open;
    if (++shown <= (named[i] ? kNamed : kOpen))
      json["rows"].push_back(row_json(pairs[i], named[i], named[i] ? tangled(columns, pairs[i].key) : ""));
  }
  json["named"] = shown_named;
  json["sentence"] =
      shown_named == 0
          ? "Nothing in the recipes stands out yet. Change one thing clearly, make three sheets, look again."
          : json["rows"][0]["sentence"].get<std::string>();
  return json;
}

}  // namespace sheetloupe::trend_page_parts
