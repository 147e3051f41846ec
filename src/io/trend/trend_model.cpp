#include <map>

#include "io/trend/parts.h"
#include "sheetloupe/io/trend_page.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe {
namespace {

using namespace trend_page_parts;

Json summary(const std::vector<LogRow>& rows) {
  std::map<std::string, int> grades;
  int blanks = 0, flawless = 0;
  for (const LogRow& row : rows) {
    ++grades[row.inspected.grade];
    blanks += row.blanks;
    const auto it = row.inspected.measures.find("flawless");
    if (it != row.inspected.measures.end()) flawless += static_cast<int>(it->second.value);
  }
  Json json = {{"count", rows.size()}, {"grades", grades}, {"blanks", blanks}, {"flawless", flawless}};
  if (rows.empty()) return json;
  const auto day = [](const LogRow& r) { return r.inspected.made.empty() ? r.added.substr(0, 10) : r.inspected.made; };
  json["first"] = rows.front().inspected.sheet;
  json["last"] = rows.back().inspected.sheet;
  json["from"] = day(rows.front());
  json["to"] = day(rows.back());
  return json;
}

// The most pressing thing first: the newest sheet, then a level that moved, then the strongest lead.
std::pair<std::string, std::string> headline(const Json& model) {
  const std::string last = model["sheets"].value("last", "");
  std::vector<std::string> apart, moved;
  for (const Json& chart : model["charts"]) {
    if (chart.value("newest_stands_apart", false))
      apart.push_back(chart["title"]);
    else if (chart.value("recent", false))
      moved.push_back(chart["title"]);
  }
  const auto joined = [](const std::vector<std::string>& list) {
    std::string s;
    for (std::size_t i = 0; i < list.size(); ++i) s += (i == 0 ? "" : i + 1 == list.size() ? " and " : ", ") + list[i];
    for (char& c : s) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return s;
  };
  if (model["sheets"]["count"] == 0) return {"No sheet in the log fits.", "Add sheets with sheetloupe log add FOLDER."};
  if (!apart.empty())
    return {last + " stands apart: " + joined(apart) + ".",
            "Ask what was different that day before you change the recipe."};
  if (!moved.empty())
    return {"The level moved lately: " + joined(moved) + ".",
            "Look for what changed some sheets ago, then at the charts below."};
  if (model["effects"].value("named", 0) > 0)
    return {"The newest sheets are steady. One lead to try:", model["effects"]["sentence"]};
  if (model["sheets"]["count"].get<int>() < 8)
    return {"Not enough sheets yet to tell a trend.",
            "Points are shown; limits and effects come from eight sheets on."};
  return {"The newest sheets are steady, and nothing in the recipes stands out.",
          "Change one thing clearly, make three sheets, look again."};
}

}  // namespace

Json trend_model(const std::vector<LogRow>& rows, const std::vector<LogOutcome>& outcomes) {
  Json model = {{"schema_version", 1}, {"tool", {{"name", "sheetloupe"}, {"version", version_text()}}}};
  model["sheets"] = summary(rows);
  model["charts"] = charts(rows);
  model["barred"] = barred(rows);
  model["spoiled"] = spoiled(outcomes);
  model["density"] = density(rows);
  model["effects"] = effects(rows);
  model["forecast"] = forecast(rows);
  const auto [title, line] = headline(model);
  model["headline"] = {{"title", title}, {"line", line}};
  return model;
}

}  // namespace sheetloupe
