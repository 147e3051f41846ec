#include "io/page/facts.h"

#include <cmath>

namespace sheetloupe::page {

std::map<std::string, int> defect_counts(const Json& face) {
  std::map<std::string, int> count;
  for (const Json& item : list_at(at(face, {"defects"}), "items")) ++count[text_of(item, "kind")];
  return count;
}

const char* kind_words(const std::string& kind) {
  if (kind == "dry_spot") return "dry spot";
  if (kind == "suspect") return "suspect";
  return kind == "pinhole" ? "pinhole" : "resin-rich";
}

int placed(const Json& blanks) { return static_cast<int>(list_at(blanks, "blanks").size()); }

int left_over(const Json& blanks) {
  int n = 0;
  for (const Json& u : list_at(blanks, "unplaced")) n += static_cast<int>(number_of(at(u, {"count"})));
  return n;
}

std::string short_id(const std::string& id) {
  const std::size_t dash = id.rfind('-');
  return dash == std::string::npos ? id : id.substr(dash + 1);
}

const Json* feature_of(const Json& usable, const std::string& id) {
  for (const Json& feature : list_at(usable, "features")) {
    if (at(feature, {"properties", "id"}) == id) return &feature;
  }
  return nullptr;
}

std::array<double, 2> place_of(const Json& feature) {
  const Json& geometry = feature["geometry"];
  if (geometry["type"] == "Point") return {geometry["coordinates"][0], geometry["coordinates"][1]};
  const Json& ring = geometry["coordinates"][0];
  const std::size_t n = ring.size() - 1;  // the last corner repeats the first
  std::array<double, 2> sum{};
  for (std::size_t i = 0; i < n; ++i) {
    sum[0] += ring[i][0].get<double>();
    sum[1] += ring[i][1].get<double>();
  }
  return {sum[0] / static_cast<double>(n), sum[1] / static_cast<double>(n)};
}

std::string for_the_rings(const Model& m, const std::string& defect_id) {
  if (!m.blanks.is_object()) return "No plan yet";
  const Json* feature = feature_of(m.usable, defect_id);
  std::string words;
  for (const Json& blank : list_at(m.blanks, "blanks")) {
    bool named = false;
    for (const Json& id : list_at(blank, "harmless_defects")) named = named || id == defect_id;
    if (!named || !feature) continue;
    const auto place = place_of(*feature);
    const double d =
        std::hypot(place[0] - number_of(blank["centre_mm"][0]), place[1] - number_of(blank["centre_mm"][1]));
    const std::string ring = escaped(short_id(at(blank, {"id"}).get<std::string>()));
    const bool core = d < number_of(at(blank, {"inner_diameter_mm"})) / 2;
    const bool rim = d >= number_of(at(blank, {"outer_diameter_mm"})) / 2;
    if (!words.empty()) words += ". ";
    words += core  ? "Core of " + ring + ": drilled away"
             : rim ? "Saw cut of " + ring + ": dust"
                   : "In ring " + ring + ", as its order accepts";
  }
  return words.empty() ? "No ring takes it" : words;
}

double zone_area_mm2(const Model& m, const std::string& kind) {
  double sum = 0;
  for (const Json& feature : list_at(m.usable, "features")) {
    if (at(feature, {"properties", "kind"}) == kind && feature["geometry"]["type"] == "Polygon")
      sum += polygon_area_mm2(feature["geometry"]["coordinates"]);
  }
  return sum;
}

double outline_area_mm2(const Model& m) { return zone_area_mm2(m, "outline"); }

std::string plies_words(const Json& report) {
  for (const Json& edge : list_at(report, "edges")) {
    if (at(edge, {"status"}) == "sure" && at(edge, {"plies"}).is_number())
      return std::to_string(edge["plies"].get<int>()) + ", sure";
  }
  for (const Json& edge : list_at(report, "edges")) {
    const Json& range = list_at(edge, "plies_range");
    if (at(edge, {"status"}) == "between" && range.size() == 2)
      return std::to_string(range[0].get<int>()) + " or " + std::to_string(range[1].get<int>());
  }
  return list_at(report, "edges").empty() ? "no edge photo" : "cannot tell";
}

}  // namespace sheetloupe::page
