// One chart a measure: points, limits, moving ranges, EWMA, and what the newest sheets say.
#include <algorithm>

#include "io/trend/parts.h"
#include "sheetloupe/trend.h"

namespace sheetloupe::trend_page_parts {
namespace {

constexpr std::size_t kShown = 60;   // newest sheets in a picture
constexpr std::size_t kRecent = 10;  // signals older than this many sheets are history

const char* rule_words(RunRule rule) {
  switch (rule) {
    case RunRule::beyond_3_sigma:
      return "beyond the limit";
    case RunRule::two_of_three_beyond_2:
      return "two of three far from the usual";
    case RunRule::four_of_five_beyond_1:
      return "four of five on one side";
    default:
      return "eight in a row on one side";
  }
}

struct Series {
  std::vector<const LogRow*> rows;
  std::vector<double> values;
};

Series series_of(const std::vector<LogRow>& rows, const std::string& name) {
  Series s;
  for (const LogRow& row : rows) {
    const auto it = row.inspected.measures.find(name);
    if (it == row.inspected.measures.end()) continue;
    s.rows.push_back(&row);
    s.values.push_back(it->second.value);
  }
  return s;
}

std::string better_words(const Charted& m, int side) {
  return m.better == 0 ? "" : m.better * side > 0 ? " (the better way)" : " (the worse way)";
}

// The newest signal decides what to say; older ones are seen in the chart.
std::string sentence(const Charted& m, const Series& s, const IndividualsChart& chart, const EwmaChart& ewma) {
  const MeasureName& name = measure_name(m.name);
  const std::string unit = std::string(name.unit) == "\u00b0" ? "\u00b0"
                           : name.unit[0]                     ? " " + std::string(name.unit)
                                                              : "";
  const std::size_t last = s.values.size() - 1;
  const Signal* newest = chart.signals.empty() ? nullptr : &chart.signals.back();
  if (newest && newest->index == last && newest->rule == RunRule::beyond_3_sigma) {
    return s.rows.back()->inspected.sheet + " left the usual range: " + text(s.values.back(), name.digits) + unit +
           " against " + text(m.from_zero ? std::max(0.0, chart.lower) : chart.lower, name.digits) + " to " +
           text(chart.upper, name.digits) + unit + better_words(m, newest->side) +
           ". Ask what was different that day before you change the recipe.";
  }
  if (newest && newest->index + kRecent > last) {
    return std::string("The level has moved ") + (newest->side > 0 ? "up" : "down") + better_words(m, newest->side) +
           ": " + rule_words(newest->rule) + ", last at " + s.rows[newest->index]->inspected.sheet +
           ". Look for what changed some sheets before that one: cloth, resin, mould, weather.";
  }
  const bool up = ewma.value.back() > ewma.upper, down = ewma.value.back() < ewma.lower;
  if (up || down) {
    return std::string("The running mean drifts ") + (up ? "up" : "down") + better_words(m, up ? 1 : -1) +
           ", though no single sheet stands out. Compare the last five recipes with the five before.";
  }
  return "Steady: the newest sheets stay in the usual range.";
}

Json points_json(const Series& s, const Charted& m, const std::optional<IndividualsChart>& chart, std::size_t from) {
  const int digits = measure_name(m.name).digits + 1;
  Json points = Json::array();
  for (std::size_t i = from; i < s.values.size(); ++i) {
    const Inspected& in = s.rows[i]->inspected;
    const auto& u95 = in.measures.at(m.name).u95;
    Json point = {{"sheet", in.sheet}, {"made", in.made}, {"value", figure(s.values[i], digits)}};
    point["u95"] = u95 ? figure(*u95, digits) : Json(nullptr);
    if (chart) {
      for (const Signal& signal : chart->signals)
        if (signal.index == i) point["signal"] = rule_words(signal.rule);
    }
    points.push_back(std::move(point));
  }
  return points;
}

Json chart_json(const Charted& m, const Series& s) {
  const MeasureName& name = measure_name(m.name);
  const std::size_t from = s.values.size() > kShown ? s.values.size() - kShown : 0;
  Json json = {{"measure", m.name},     {"title", m.title},         {"gloss", m.gloss},         {"unit", name.unit},
               {"digits", name.digits}, {"from_zero", m.from_zero}, {"sheets", s.values.size()}};
  // The newest sheet is held against those before it.
  std::optional<IndividualsChart> chart;
  if (s.values.size() >= static_cast<std::size_t>(kLeastSheets))
    chart = individuals_chart(s.values, s.values.size() - 1);
  json["points"] = points_json(s, m, chart, from);
  json["enough"] = chart.has_value();
  if (!chart) {
    json["reason"] =
        s.values.size() < static_cast<std::size_t>(kLeastSheets)
            ? "not enough sheets yet: " + std::to_string(s.values.size()) + " of " + std::to_string(kLeastSheets)
            : "every sheet had the same value";
    json["sentence"] = "Points only, no limits: " + json["reason"].get<std::string>() + ".";
    return json;
  }
  const EwmaChart ewma = ewma_chart(s.values, chart->mean, chart->sigma);
  json["mean"] = figure(chart->mean, 4);
  json["lower"] = figure(chart->lower, 4);
  json["upper"] = figure(chart->upper, 4);
  json["sigma"] = figure(chart->sigma, 4);
  json["moving_range"] = {
      {"mean", figure(chart->mean_range, 4)}, {"upper", figure(chart->range_upper, 4)}, {"values", Json::array()}};
  for (std::size_t i = std::max<std::size_t>(from, 1); i < s.values.size(); ++i)
    json["moving_range"]["values"].push_back(figure(chart->moving_range[i - 1], 4));
  json["ewma"] = {
      {"lambda", 0.3}, {"lower", figure(ewma.lower, 4)}, {"upper", figure(ewma.upper, 4)}, {"values", Json::array()}};
  for (std::size_t i = from; i < s.values.size(); ++i) json["ewma"]["values"].push_back(figure(ewma.value[i], 4));
  const Signal* newest = chart->signals.empty() ? nullptr : &chart->signals.back();
  json["newest_stands_apart"] = newest && newest->index + 1 == s.values.size();
  json["recent"] = newest && newest->index + kRecent >= s.values.size();
  json["side"] = newest ? newest->side * m.better : 0;
  json["sentence"] = sentence(m, s, *chart, ewma);
  return json;
}

}  // namespace

Json charts(const std::vector<LogRow>& rows) {
  Json list = Json::array();
  for (const Charted& m : charted()) {
    const Series s = series_of(rows, m.name);
    // A measure known for a few sheets of many makes no chart.
    if (s.values.empty() || s.values.size() * 4 < rows.size()) continue;
    list.push_back(chart_json(m, s));
  }
  return list;
}

}  // namespace sheetloupe::trend_page_parts
