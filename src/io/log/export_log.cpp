// Rows of the log as JSON and CSV.
#include <cstdio>
#include <set>

#include "io/report/json_figures.h"
#include "sheetloupe/io/log.h"

namespace sheetloupe {
namespace {

std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
}

std::string plain(double value) {
  char buffer[40];
  std::snprintf(buffer, sizeof buffer, "%.10g", value);
  return buffer;
}

}  // namespace

const std::vector<std::string>& log_causes() {
  static const std::vector<std::string> causes = {"good", "dry_spot", "pinhole", "resin_rich", "weave", "split",
                                                  "void", "thin",     "saw",     "turning",    "other"};
  return causes;
}

Json log_row_to_json(const LogRow& row) {
  const Inspected& i = row.inspected;
  Json measures = Json::object(), recipe = Json::object();
  for (const MeasureName& m : log_measures()) {
    const auto it = i.measures.find(m.name);
    if (it == i.measures.end()) continue;
    measures[m.name] = {{"value", figure(it->second.value, 4)},
                        {"u95", it->second.u95 ? figure(*it->second.u95, 4) : Json(nullptr)}};
  }
  for (const auto& [key, value] : i.recipe) std::visit([&, &k = key](const auto& v) { recipe[k] = v; }, value);
  Json json = {{"sheet", i.sheet},
               {"revision", row.revision},
               {"added", row.added},
               {"made", i.made.empty() ? Json(nullptr) : Json(i.made)},
               {"tool", i.tool},
               {"rubric", i.rubric},
               {"grade", i.grade},
               {"datum", i.datum},
               {"measures", measures},
               {"recipe", recipe},
               {"outcomes", {{"good", row.good}, {"spoiled", row.bad}, {"planned", row.blanks}}}};
  if (!i.photos.empty()) {
    json["photos"] = Json::array();
    for (const auto& [file, sha] : i.photos) json["photos"].push_back({{"file", file}, {"sha256", sha}});
  }
  if (!i.barred_percent.empty()) json["barred_percent"] = i.barred_percent;
  if (!i.defects.empty()) {
    json["defects"] = Json::array();
    for (const LoggedDefect& d : i.defects)
      json["defects"].push_back({{"id", d.id},
                                 {"kind", d.kind},
                                 {"face", d.face},
                                 {"centre_mm", point_json(d.at)},
                                 {"area_mm2", figure(d.area_mm2, 3)},
                                 {"confidence", figure(d.confidence, 2)}});
  }
  if (!i.blanks.empty()) {
    json["blanks"] = Json::array();
    for (const LoggedBlank& b : i.blanks)
      json["blanks"].push_back(
          {{"id", b.id}, {"ring", b.ring}, {"centre_mm", point_json(b.at)}, {"saw_outer_mm", b.saw_outer_mm}});
  }
  return json;
}

std::string log_to_csv(const std::vector<LogRow>& rows) {
  std::set<std::string> recipe;
  for (const LogRow& row : rows)
    for (const auto& [key, value] : row.inspected.recipe) recipe.insert(key);
  std::string csv = "sheet,revision,made,added,tool,rubric,grade,good,spoiled";
  for (const MeasureName& m : log_measures()) csv += std::string(",") + m.name + "," + m.name + "_u95";
  for (const std::string& key : recipe) csv += "," + quoted("recipe." + key);
  csv += "\r\n";
  for (const LogRow& row : rows) {
    const Inspected& i = row.inspected;
    csv += quoted(i.sheet) + "," + std::to_string(row.revision) + "," + quoted(i.made) + "," + row.added + "," +
           quoted(i.tool) + "," + quoted(i.rubric) + "," + i.grade + "," + std::to_string(row.good) + "," +
           std::to_string(row.bad);
    for (const MeasureName& m : log_measures()) {
      const auto it = i.measures.find(m.name);
      csv += "," + (it == i.measures.end() ? "" : plain(it->second.value)) + ",";
      if (it != i.measures.end() && it->second.u95) csv += plain(*it->second.u95);
    }
    for (const std::string& key : recipe) {
      const auto it = i.recipe.find(key);
      csv += ",";
      if (it == i.recipe.end()) continue;
      const auto* value = std::get_if<double>(&it->second);
      csv += value ? plain(*value) : quoted(std::get<std::string>(it->second));
    }
    csv += "\r\n";
  }
  return csv;
}

}  // namespace sheetloupe
