// Where the tows run, front and back side by side.
#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

using Cell = std::string (*)(const Json& weave);

std::string pattern_cell(const Json& w) { return weave_words(text_of(w, "pattern", "unknown")); }

std::string pitch_cell(const Json& w) {
  return measured(at(w, {"warp_pitch_mm"}), at(w, {"warp_pitch_u95_mm"}), 2, "") + " / " +
         measured(at(w, {"weft_pitch_mm"}), at(w, {"weft_pitch_u95_mm"}), 2, "mm");
}

std::string warp_cell(const Json& w) { return measured(at(w, {"warp_deg"}), at(w, {"angle_u95_deg"}), 1, "\u00b0"); }
std::string weft_cell(const Json& w) { return measured(at(w, {"weft_deg"}), at(w, {"angle_u95_deg"}), 1, "\u00b0"); }

std::string shear_cell(const Json& w) {
  return measured(at(w, {"shear_deg", "p95_abs"}), at(w, {"local_u95_deg"}), 1, "\u00b0") + ", at most " +
         measured(at(w, {"shear_deg", "max_abs"}), at(w, {"shear_deg", "max_abs_u95"}), 1, "\u00b0");
}

std::string lean_cell(const Json& w) {
  const Json& local = at(w, {"local_u95_deg"});
  return measured(at(w, {"deviation_deg", "warp_p95"}), local, 1, "\u00b0") + " warp, " +
         measured(at(w, {"deviation_deg", "weft_p95"}), local, 1, "\u00b0") + " weft, at most " +
         measured(at(w, {"deviation_deg", "max"}), at(w, {"deviation_deg", "max_u95"}), 1, "\u00b0");
}

std::string coverage_cell(const Json& w) { return share_words(number_of(at(w, {"coverage"}))) + " of the cloth"; }

struct Line {
  const char* name;
  const char* meaning;
  Cell cell;
};

constexpr Line kLines[] = {
    {"Pattern", "as read from the photo", pattern_cell},
    {"Tow spacing, warp / weft", "from tow to tow", pitch_cell},
    {"Warp runs", "from the top side, counter-clockwise", warp_cell},
    {"Weft runs", "square to the warp reads 90\u00b0 more", weft_cell},
    {"Out of square, 95 % of the face", "angle between the tow sets, less 90\u00b0", shear_cell},
    {"Tows lean, 95 % of the face", "from their own mean direction", lean_cell},
    {"Measured over", "elsewhere the weave was not read", coverage_cell},
};

// "weft leans 4.4 +-0.4 deg at 166, 81 mm" as a sentence with the signs of print.
std::string remark_words(const Json& remark) {
  std::string text = escaped(remark.get<std::string>());
  for (const auto& [plain, print] : {std::pair{" deg", "\u00b0"}, std::pair{"+-", "\u00b1"}}) {
    for (std::size_t i = text.find(plain); i != std::string::npos; i = text.find(plain, i + 1))
      text.replace(i, std::string(plain).size(), print);
  }
  return sentence(text);
}

}  // namespace

std::string weave(const Model& m) {
  std::vector<const Json*> read;
  std::string header, not_read, remarks;
  for (const Json& face : list_at(m.report, "faces")) {
    const Json& w = at(face, {"weave"});
    if (!w.is_object()) continue;
    const std::string role = sentence(text_of(face, "role"));
    if (!at(w, {"warp_deg"}).is_number()) {
      not_read += "<p>" + role + ": cannot tell. " + sentence(text_of(w, "reason")) + "</p>\n";
      continue;
    }
    read.push_back(&w);
    header += "<th scope=\"col\">" + role + "</th>";
    std::vector<std::string> lines;
    for (const Json& remark : list_at(w, "remarks")) lines.push_back(remark_words(remark));
    if (!lines.empty()) remarks += entry("Worst, " + text_of(face, "role"), list(lines));
  }
  if (read.empty()) return not_read.empty() ? "" : section("weave", "Weave", "where the tows run", not_read);
  std::string rows;
  for (const Line& line : kLines) {
    rows += std::string("<tr><th scope=\"row\">") + line.name + "</th>";
    for (const Json* w : read) rows += "<td>" + line.cell(*w) + "</td>";
    rows += std::string("<td class=\"s h\">") + line.meaning + "</td></tr>\n";
  }
  return section(
      "weave", "Weave", "where the tows run",
      "<div class=\"scroll\"><table class=\"weft\"><thead><tr><th scope=\"col\">What</th>" + header +
          "<th scope=\"col\" class=\"h\">Meaning</th></tr></thead><tbody>\n" + rows + "</tbody></table></div>\n" +
          (remarks.empty() ? "" : "<dl class=\"lab\" style=\"margin-top:10px\">" + remarks + "</dl>\n") + not_read);
}

}  // namespace sheetloupe::page
