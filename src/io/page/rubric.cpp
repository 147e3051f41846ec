// The grade on the page: why it is no better, and every limit of the rubric on a line.
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

// Shape first: full disc, half disc, barred ring, dotted ring; always with the word.
std::string sign(const std::string& shape) {
  const std::string open = "<svg class=\"go\" viewBox=\"0 0 16 16\" aria-hidden=\"true\">";
  if (shape == "full") return open + "<circle class=\"f\" cx=\"8\" cy=\"8\" r=\"6.5\"/></svg>";
  if (shape == "half")
    return open + "<circle cx=\"8\" cy=\"8\" r=\"6.5\"/><path class=\"f\" d=\"M8 1.5a6.5 6.5 0 0 0 0 13z\"/></svg>";
  if (shape == "barred") return open + "<circle cx=\"8\" cy=\"8\" r=\"6.5\"/><path d=\"M3.5 12.5L12.5 3.5\"/></svg>";
  return open + "<circle cx=\"8\" cy=\"8\" r=\"6.5\" stroke-dasharray=\"1.6 2.5\"/></svg>";
}

// As many decimals as the uncertainty can bear, and a whole number as it is.
int digits_for(double value, double u95) {
  if (value == std::floor(value) && u95 == 0) return 0;
  return u95 > 0 && u95 < 0.095 ? 2 : u95 >= 9.5 ? 0 : 1;
}

std::string limit_words(double limit, const std::string& unit) {
  return number(limit, limit == std::floor(limit) ? 0 : 1) + (unit.empty() || unit == "\u00b0" ? "" : " ") + unit;
}

std::string value_cell(const Json& row) {
  if (!at(row, {"value"}).is_number()) return "cannot tell";
  const double value = number_of(row["value"]), u95 = number_of(at(row, {"value_u95"}));
  return measured(value, u95 >= 0.005 ? Json(u95) : Json(nullptr), digits_for(value, u95), text_of(row, "unit"));
}

std::string verdict_cell(const Json& row) {
  const std::string a = text_of(at(row, {"A"}), "verdict"), b = text_of(at(row, {"B"}), "verdict");
  std::string words;
  if (a == "passes")
    words = sign("full") + "<b>Passes A</b>";
  else if (a == "too close to call")
    words = sign("half") + "<b>On the limit of A</b>";
  else if (a == "over" && b == "passes")
    words = sign("barred") + "<b>Over A, passes B</b>";
  else if (a == "over" && b == "too close to call")
    words = sign("half") + "<b>On the limit of B</b>";
  else if (a == "over")
    words = sign("barred") + "<b>Over B</b>";
  else
    words = sign("dotted") + "<b>Cannot tell</b>";
  const std::string where = text_of(row, "where"), reason = text_of(row, "reason");
  return words + (where.empty() ? "" : " <span class=\"s\">" + where + "</span>") +
         (reason.empty() ? "" : ". " + sentence(reason));
}

// A pole at a limit; its flag points to the side that passes.
std::string pole(double x, bool at_least, const std::string& label, bool strong) {
  char buffer[400];
  const double flag = at_least ? 7 : -7;
  // The label stands on the failing side of the pole.
  std::snprintf(buffer, sizeof buffer,
                "<path class=\"lim\" d=\"M%.1f 2V27\"%s/><path class=\"lf\" d=\"M%.1f 2l%.0f 4.5l%.0f 4.5z\"/><text "
                "x=\"%.1f\" y=\"10.5\" text-anchor=\"%s\">%s</text>",
                x, strong ? "" : " style=\"stroke-dasharray:3 2\"", x, flag, -flag, x + (at_least ? -5 : 5),
                at_least ? "end" : "start", label.c_str());
  return buffer;
}

std::string gauge(const Json& row) {
  if (!at(row, {"value"}).is_number()) return "";
  const bool at_least = at(row, {"rule"}) == "at least";
  const double a = number_of(at(row, {"A", "limit"})), b = number_of(at(row, {"B", "limit"})),
               value = number_of(row["value"]), low = number_of(at(row, {"low"}), value),
               high = number_of(at(row, {"high"}), value);
  // Percent that must not be smaller end at 100; all else starts at 0 and leaves a quarter beyond the largest figure.
  const double start = at_least ? std::max(0.0, std::min(b, low) - 0.5 * (100 - std::min(b, low))) : 0.0;
  const double end = at_least ? 100.0 : std::max(1.25 * std::max({a, b, high}), 1e-6);
  const auto x = [&](double v) { return 4 + 212 * std::clamp((v - start) / (end - start), 0.0, 1.0); };
  char buffer[500];
  std::snprintf(buffer, sizeof buffer,
                "<path class=\"ax\" d=\"M4 20H216\"/><path class=\"no\" d=\"M%.1f 20H%.1f\" "
                "style=\"stroke-width:5;stroke-opacity:.28\"/>",
                at_least ? 4.0 : x(a), at_least ? x(a) : 216.0);
  std::string svg = buffer;
  // Two poles too close for two labels: the stricter one speaks.
  const bool apart = std::abs(x(a) - x(b)) > 34;
  svg += pole(x(a), at_least, "A " + limit_words(a, apart ? "" : text_of(row, "unit")), true);
  if (apart) svg += pole(x(b), at_least, "B " + limit_words(b, ""), false);
  std::snprintf(buffer, sizeof buffer,
                "<path class=\"iv\" d=\"M%.1f 20H%.1fM%.1f 15.5v9M%.1f 15.5v9\"/><circle class=\"pt\" cx=\"%.1f\" "
                "cy=\"20\" r=\"3.4\"/>",
                x(low), x(high), x(low), x(high), x(value));
  return "<svg class=\"gauge\" viewBox=\"0 0 220 30\" aria-hidden=\"true\">" + svg + buffer + "</svg>";
}

std::string row_html(const Json& row) {
  std::string name = sentence(text_of(row, "words"));
  const Json& zone = at(row, {"zone_mm"});
  if (zone.is_number()) name += ", worst " + number(zone, 0) + " mm square";
  const std::string unit = text_of(row, "unit");
  return "<tr><th scope=\"row\">" + name + "</th><td class=\"v\">" + value_cell(row) + "</td><td class=\"gc\">" +
         gauge(row) + "<span class=\"vh\">" + text_of(row, "rule") + " " +
         limit_words(number_of(at(row, {"A", "limit"})), unit) + " for A, " +
         limit_words(number_of(at(row, {"B", "limit"})), unit) + " for B</span></td><td class=\"r\">" +
         verdict_cell(row) + "</td></tr>\n";
}

std::string sources(const Json& limits) {
  std::string rows;
  for (const Json& row : limits) {
    const std::string a = text_of(at(row, {"A"}), "sure"), b = text_of(at(row, {"B"}), "sure");
    rows += entry(sentence(text_of(row, "words")),
                  "A " + limit_words(number_of(at(row, {"A", "limit"})), text_of(row, "unit")) + ", B " +
                      limit_words(number_of(at(row, {"B", "limit"})), text_of(row, "unit")) + ", " +
                      (a == b ? a : "A " + a + ", B " + b) + ". " + sentence(text_of(row, "source")) + ".");
  }
  return "<details class=\"once\"><summary>Where the limits come from</summary>\n<dl class=\"lab\">" + rows +
         "</dl></details>\n";
}

}  // namespace

std::vector<std::string> grade_reasons(const Json& report) {
  const Json& grade = at(report, {"grade"});
  const std::string letter = text_of(grade, "grade");
  std::vector<std::string> lines;
  for (const Json& reason : list_at(grade, "reasons")) {
    if (reason.is_string())
      lines.push_back(sentence(escaped(reason.get<std::string>())) +
                      (reason.get<std::string>().ends_with('.') ? "" : "."));
  }
  if (lines.size() > 3) {
    const std::size_t more = lines.size() - 2;
    lines.resize(2);
    lines.push_back(std::to_string(more) + " more stand in the table of limits.");
  }
  return lines;
}

std::string grade_table(const Json& report) {
  const Json& grade = at(report, {"grade"});
  const Json& limits = list_at(grade, "limits");
  if (limits.empty()) return "";
  std::string rows, remarks;
  for (const Json& row : limits) rows += row_html(row);
  for (const Json& remark : list_at(grade, "remarks")) {
    // What was not measured stands in the table already.
    const std::string text = remark.is_string() ? remark.get<std::string>() : "";
    if (text.empty() || text.starts_with("Not in the grade")) continue;
    remarks += " " + escaped(text) + (text.ends_with('.') ? "" : ".");
  }
  return section(
      "grade", "Measured against the rubric", text_of(grade, "rubric"),
      "<div class=\"scroll\"><table class=\"meas\"><thead><tr><th scope=\"col\">What</th><th scope=\"col\">Value and "
      "95 % interval</th><th scope=\"col\">Against the limits</th><th scope=\"col\">Reads as</th></tr></thead>"
      "<tbody>\n" +
          rows +
          "</tbody></table></div>\n<p class=\"s\" style=\"margin-top:10px\">The bar is the 95 % interval, the dot "
          "the best value, a flag the limit; flags point to the side that passes. A bar that crosses its flag is "
          "not a pass and not a fail: it counts against the grade." +
          remarks + "</p>\n" + sources(limits),
      false);
}

}  // namespace sheetloupe::page
