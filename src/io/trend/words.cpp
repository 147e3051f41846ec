#include <algorithm>
#include <array>
#include <map>

#include "io/page/html.h"
#include "io/trend/parts.h"

namespace sheetloupe::trend_page_parts {

const std::vector<Charted>& charted() {
  static const std::vector<Charted> measures = {
      {"ring_yield_percent", "ring yield", "Ring yield", "good places of what a flawless sheet would hold, %", 1,
       false},
      {"usable_percent", "usable share", "Usable share", "of the sheet, %", 1, false},
      {"pinholes_per_dm2", "pinholes", "Pinholes", "per dm\u00b2 of face", -1, true},
      {"dry_spot_percent", "dry area", "Dry area", "of the faces, %", -1, true},
      {"resin_rich_percent", "resin-rich area", "Resin-rich area", "of the faces, %", -1, true},
      {"tow_turn_p95_deg", "weave turn", "Weave turn", "95 % of the face, degrees", -1, true},
      {"fibre_volume_percent", "fibre volume", "Fibre volume", "of the laminate, %", 0, false},
      {"thickness_mm", "thickness", "Thickness", "mean over the edges, mm", 0, false},
  };
  return measures;
}

const MeasureName& measure_name(const std::string& name) {
  const auto& all = log_measures();
  return *std::find_if(all.begin(), all.end(), [&](const MeasureName& m) { return name == m.name; });
}

std::string text(double value, int digits, bool sign) {
  const std::string out = page::number(value, digits);
  const bool zero = out.find_first_of("123456789") == std::string::npos;
  return sign && value > 0 && !zero ? "+" + out : out;
}

std::string cause_words(const std::string& cause) {
  static const std::map<std::string, std::string> words = {
      {"dry_spot", "dry spot"}, {"resin_rich", "resin-rich"},  {"not_judged", "not judged"},
      {"weave", "weave turn"},  {"split", "split at an edge"}, {"void", "hole inside"},
      {"thin", "too thin"},     {"saw", "saw slipped"},        {"turning", "broke in turning"},
      {"taken", "already cut"}};
  const auto it = words.find(cause);
  return it == words.end() ? cause : it->second;
}

std::string recipe_words(const std::string& key) {
  static const std::map<std::string, std::string> words = {
      {"resin_g", "resin, g"},       {"cure_h", "cure, h"}, {"resin_per_cloth", "resin per cloth weight"},
      {"resin_c", "resin, \u00b0C"}, {"fabric", "cloth"},   {"plies_laid", "plies laid"}};
  const auto it = words.find(key);
  if (it != words.end()) return it->second;
  std::string plain = key;
  std::replace(plain.begin(), plain.end(), '_', ' ');
  return plain;
}

}  // namespace sheetloupe::trend_page_parts
