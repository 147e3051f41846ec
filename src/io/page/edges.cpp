// The cut edges: the strip with its ply ruler, thickness along it, and what lies between plies. Then the laminate.
#include <algorithm>
#include <cstdio>
#include <numeric>

#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

std::string count_words(const Json& edge) {
  const std::string status = text_of(edge, "status");
  const Json& range = list_at(edge, "plies_range");
  if (status == "sure" && at(edge, {"plies"}).is_number())
    return std::to_string(edge["plies"].get<int>()) + " plies, sure";
  if (status == "between" && range.size() == 2)
    return std::to_string(range[0].get<int>()) + " or " + std::to_string(range[1].get<int>()) + " plies";
  return "cannot tell";
}

std::string laid_words(const Json& edge) {
  const Json& laid = at(edge, {"laid", "plies"});
  if (!laid.is_number()) return "";
  const std::string verdict = text_of(at(edge, {"laid"}), "verdict");
  std::string were = std::to_string(laid.get<int>()) + " were laid";
  if (verdict == "confirmed" || verdict == "not_checked") return were;
  if (verdict == "mismatch") return were + ": they do not agree";
  if (verdict == "mismatch_likely") return were + ": they hardly agree";
  return were + ", not proven by this photo";
}

// The plies of a sure count, to scale from the front face down, with the thickness as a capped bar.
std::string ply_ruler(const Json& edge) {
  std::vector<double> plies;
  for (const Json& t : list_at(edge, "ply_thickness_mm")) plies.push_back(number_of(t));
  const double total = std::accumulate(plies.begin(), plies.end(), 0.0);
  if (plies.empty() || !(total > 0)) return "";
  const double u95 = number_of(at(edge, {"ply_thickness_u95_mm"}));
  // Eleven pixels a ply keep the numbers apart, and at least 200 in all.
  const double height = std::max(200.0, 14.0 * static_cast<double>(plies.size())), k = height / total;
  char buffer[300];
  std::string svg;
  double y = 24;
  for (std::size_t i = 0; i < plies.size(); ++i) {
    std::snprintf(
        buffer, sizeof buffer,
        "<path class=\"e-l\" d=\"M40 %.1fH150\"/><text x=\"34\" y=\"%.1f\" text-anchor=\"end\">%zu</text><text "
        "x=\"156\" y=\"%.1f\" class=\"u2\">%.2f</text>",
        y, y + plies[i] * k / 2 + 4, i + 1, y + plies[i] * k / 2 + 4, plies[i]);
    svg += buffer;
    y += plies[i] * k;
  }
  std::snprintf(
      buffer, sizeof buffer,
      "<path class=\"e-l\" d=\"M40 %.1fH150M40 24V%.1fM150 24V%.1f\"/><text x=\"34\" y=\"14\" "
      "text-anchor=\"end\">front</text><text x=\"150\" y=\"14\" text-anchor=\"end\" class=\"u2\">mm%s</text><text "
      "x=\"34\" y=\"%.1f\" text-anchor=\"end\">back</text>",
      y, y, y, u95 > 0 ? (", each \u00b1" + number(u95, 2)).c_str() : "", y + 16);
  svg += buffer;
  char head[200];
  std::snprintf(
      head, sizeof head,
      "<svg class=\"plies\" viewBox=\"0 0 200 %.0f\" width=\"200\" role=\"img\" aria-label=\"%zu plies to scale\">",
      height + 48, plies.size());
  return head + svg + "</svg>\n";
}

std::string thickness_words(const Json& edge) {
  const Json& t = at(edge, {"thickness_mm"});
  if (!at(t, {"mean"}).is_number()) return "";
  const bool strip = at(edge, {"scale", "source"}) == "strip";
  return measured(t["mean"], at(t, {"u95"}), 2, "mm") + " on average, " + number(at(t, {"min"}), 2) + " to " +
         number(at(t, {"max"}), 2) + " mm along the edge; scale from the " + (strip ? "strip beside it" : "caliper");
}

// What a strip beside the edge says when the caliper gave the scale.
std::string strip_words(const Json& edge) {
  const Json& scale = at(edge, {"scale"});
  if (at(scale, {"source"}) != "caliper" || !at(scale, {"strip_thickness_mm"}).is_number()) return "";
  const std::string remark = text_of(scale, "remark");
  if (!remark.empty()) return sentence(remark);
  return measured(scale["strip_thickness_mm"], at(scale, {"strip_thickness_u95_mm"}), 2, "mm") +
         ", as the caliper has it";
}

// A ply's thickness cannot be finer than a pixel.
std::string sharpness_words(const Json& edge) {
  std::string words = number(edge["px_per_ply"], 0) + " px per ply";
  const double band_px = number_of(at(edge, {"band_px"})), mm = number_of(at(edge, {"thickness_mm", "mean"}));
  if (band_px > 0 && mm > 0) words += ", " + number(mm / band_px, 3) + "\u00a0mm a pixel";
  return words;
}

std::string marks_words(const Json& edge) {
  std::vector<std::string> lines;
  for (const Json& mark : list_at(edge, "delaminations")) {
    const double length = number_of(at(mark, {"to_mm"})) - number_of(at(mark, {"from_mm"}));
    const Json& ply = at(mark, {"below_ply"});
    lines.push_back(sentence(text_of(mark, "kind") == "void" ? "void" : "split") + ", " + number(length, 1) +
                    " mm long from " + number(at(mark, {"from_mm"}), 1) + " mm" +
                    (ply.is_number() ? ", under ply " + std::to_string(ply.get<int>()) : "") +
                    ". A ring cut through it could part: look at the plug's rim.");
  }
  return lines.empty() ? "" : list(lines);
}

std::string one_edge(const Model& m, const Json& edge) {
  const std::string side = text_of(edge, "side", "cut"), laid = laid_words(edge);
  std::string body;
  if (const auto it = m.pictures.find("edge-" + side); it != m.pictures.end() && !it->second.jpeg.empty()) {
    body +=
        "<div class=\"strip\" tabindex=\"0\" role=\"group\" aria-label=\"Edge picture, scrolls sideways\"><img "
        "alt=\"The " +
        side + " edge with the lines that were counted\" src=\"data:image/jpeg;base64," + base64(it->second.jpeg) +
        "\"></div>\n";
  }
  std::string facts;
  const std::string reason = text_of(edge, "reason");
  if (!reason.empty()) facts += entry("Why", sentence(reason));
  const std::string thickness = thickness_words(edge), marks = marks_words(edge);
  if (!thickness.empty()) facts += entry("Thickness", thickness);
  if (const std::string strip = strip_words(edge); !strip.empty()) facts += entry("By the strip", strip);
  if (at(edge, {"px_per_ply"}).is_number()) facts += entry("Sharpness", sharpness_words(edge));
  if (!marks.empty()) facts += entry("Between plies", marks);
  const std::string ruler = ply_ruler(edge);
  body += "<div class=\"edge\">" + ruler + "<dl class=\"lab\">" + facts + "</dl></div>\n";
  return section("edge-" + side, "Cut edge, " + side + " side", count_words(edge) + (laid.empty() ? "" : "; " + laid),
                 body);
}

// One line for each reason, with the sides that share it.
std::string unread(const Json& edges) {
  std::vector<std::pair<std::string, std::string>> lines;  // reason, sides
  for (const Json& edge : edges) {
    const std::string reason = sentence(text_of(edge, "reason", "not measured")), side = text_of(edge, "side", "edge");
    const auto known = std::find_if(lines.begin(), lines.end(), [&](const auto& line) { return line.first == reason; });
    if (known == lines.end())
      lines.emplace_back(reason, sentence(side));
    else
      known->second += ", " + side;
  }
  std::string rows;
  for (const auto& [reason, sides] : lines) rows += entry(sides, reason);
  return rows;
}

}  // namespace

std::string edges(const Model& m) {
  std::string html;
  Json silent = Json::array();
  for (const Json& edge : list_at(m.report, "edges")) {
    if (at(edge, {"status"}) == "not_measured")
      silent.push_back(edge);
    else
      html += one_edge(m, edge);
  }
  if (!html.empty()) html = "<div class=\"edges\">\n" + html + "</div>\n";
  if (!silent.empty())
    html += section("edges-none", "Cut edges", "not measured", "<dl class=\"lab\">" + unread(silent) + "</dl>\n");
  if (list_at(m.report, "edges").empty())
    html += section(
        "edges-none", "Cut edges", "not photographed",
        "<div class=\"none\"><h3>Cannot tell: no photo of a cut edge</h3><p style=\"margin-top:4px\">A close-up "
        "shows the plies and the thickness. Sand the edge, wipe it wet, hold the phone level with it, front "
        "face up, and save the photo as <span class=\"nb\"><b>edge-top.jpg</b></span>, edge-right, edge-bottom or "
        "edge-left.</p></div>\n");
  return html;
}

namespace {

// "12 plies x 343 g/m2 / (1.78 g/cm3 x 6.1 mm)", so that it can be reckoned again.
std::string reckoning(const Json& l) {
  const Json &areal = at(l, {"areal_g_m2"}), &density = at(l, {"fibre_density_g_cm3"}), &mm = at(l, {"thickness_mm"});
  std::string plies = plural(static_cast<int>(number_of(at(l, {"plies"}))), "ply", "plies");
  if (!areal.is_number() || !density.is_number() || !mm.is_number()) return plies;
  return plies + " of " + number(areal, 0) + "\u00a0g/m\u00b2 cloth, over fibre of " + number(density, 2) +
         "\u00a0g/cm\u00b3 times " + number(mm, 1) + "\u00a0mm of sheet";
}

}  // namespace

std::string laminate(const Model& m) {
  const Json& l = at(m.report, {"laminate"});
  const Json& fibre = at(l, {"fibre_volume_fraction"});
  if (!fibre.is_number()) {
    const std::string reason = text_of(l, "reason");
    return reason.empty() ? ""
                          : section("laminate", "The laminate",
                                    at(l, {"fibre_volume_fraction_range"}).is_array() ? "a range only" : "cannot tell",
                                    "<p>" + sentence(reason) + "</p>\n");
  }
  const double f = 100 * number_of(fibre), u = 100 * number_of(at(l, {"fibre_volume_fraction_u95"}));
  char bar[600];
  std::snprintf(bar, sizeof bar,
                "<div class=\"bar\"><i style=\"width:%.1f%%\"></i></div><div class=\"wh\"><i class=\"iv\" "
                "style=\"left:%.1f%%;width:%.1f%%\"></i><i class=\"dot\" style=\"left:%.1f%%\"></i></div>",
                f, std::max(0.0, f - u), 2 * u, f);
  std::string facts = entry("Fibre volume", measured(f, u, 0, "%") + ": " + reckoning(l) +
                                                ". The rest is resin, and any voids; photos cannot split the two.");
  const std::string reads = text_of(l, "reads_as");
  if (!reads.empty()) facts += entry("Reads as", sentence(reads));
  return section("laminate", "The laminate", "from plies, cloth weight and thickness",
                 "<div class=\"lamb\" role=\"img\" aria-label=\"Fibre " + number(f, 0) + " percent plus or minus " +
                     number(u, 0) + ", the rest resin and voids\"><div class=\"top\"><b>Fibre " +
                     measured(f, u, 0, "%") + "</b><b>Resin, and any voids, " + measured(100 - f, u, 0, "%") +
                     "</b></div>" + bar + "</div>\n<dl class=\"lab\">" + facts + "</dl>\n");
}

}  // namespace sheetloupe::page
