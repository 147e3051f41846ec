// The grade on the page: the boxed letter, why it is no better, and every limit with its source.
#include "io/page/sections.h"

namespace sheetloupe::page {
namespace {

std::string field(const Json& json, const char* key) {
  const auto it = json.find(key);
  return it != json.end() && it->is_string() ? escaped(it->get<std::string>()) : "";
}

const Json* grade_of(const Json& report) {
  const auto it = report.find("grade");
  return it != report.end() && it->is_object() && it->contains("grade") ? &*it : nullptr;
}

// Shape first: full disc, half disc, barred ring, dotted ring; always with the word.
std::string sign(const std::string& verdict) {
  const std::string open = "<svg class=\"go\" viewBox=\"0 0 16 16\" aria-hidden=\"true\">";
  if (verdict == "passes") return open + "<circle class=\"f\" cx=\"8\" cy=\"8\" r=\"6\"/></svg>";
  if (verdict == "over") return open + "<circle cx=\"8\" cy=\"8\" r=\"6\"/><path d=\"M3 8H13\"/></svg>";
  if (verdict == "not measured") return open + "<circle cx=\"8\" cy=\"8\" r=\"6\" stroke-dasharray=\"1.5 3\"/></svg>";
  return open + "<circle cx=\"8\" cy=\"8\" r=\"6\"/><path class=\"f\" d=\"M8 2a6 6 0 0 1 0 12z\"/></svg>";
}

int digits_for(const Json& value) {
  return value.is_number() && value.get<double>() == std::floor(value.get<double>()) ? 0 : 1;
}

std::string with_unit(const std::string& figure, const std::string& unit) {
  return unit.empty() ? figure : figure + (unit == "\u00b0" ? "" : " ") + unit;
}

std::string value_cell(const Json& row) {
  if (!row["value"].is_number()) return "cannot tell";
  const bool u95 = row["value_u95"].is_number() && row["value_u95"].get<double>() >= 0.05;
  const int digits = u95 ? 1 : digits_for(row["value"]);
  return measured(row["value"], u95 ? row["value_u95"] : Json(nullptr), digits, "") + " " + field(row, "unit");
}

std::string limit_cell(const Json& row, const char* letter) {
  const Json& limit = row[letter];
  return with_unit(field(row, "rule") + " " + number(limit["limit"], digits_for(limit["limit"])), field(row, "unit")) +
         "<br>" + sign(limit.value("verdict", "")) + field(limit, "verdict");
}

std::string source_cell(const Json& row) {
  const std::string a = field(row["A"], "sure"), b = field(row["B"], "sure");
  return "<small>" + (a == b ? a : "A " + a + ", B " + b) + ": " + field(row, "source") + "</small>";
}

std::string row_html(const Json& row) {
  std::string name = field(row, "words");
  if (row["zone_mm"].is_number())
    name += ", worst " + number(row["zone_mm"], digits_for(row["zone_mm"])) + " mm square";
  std::string note = field(row, "where");
  const std::string reason = field(row, "reason");
  if (!reason.empty()) note += (note.empty() ? "" : ". ") + reason;
  return "<tr><th scope=\"row\">" + name + "</th><td class=\"v\">" + value_cell(row) +
         (note.empty() ? "" : "<br><small>" + note + "</small>") + "</td><td>" + limit_cell(row, "A") + "</td><td>" +
         limit_cell(row, "B") + "</td><td class=\"r\">" + source_cell(row) + "</td></tr>\n";
}

}  // namespace

std::string grade_box(const Json& report) {
  const Json* grade = grade_of(report);
  if (!grade) return "";
  const std::string letter = field(*grade, "grade");
  if (letter.size() == 1) return "<div class=\"g\" aria-label=\"Grade " + letter + "\">" + letter + "</div>";
  return "<div class=\"g\" aria-label=\"Not graded\"><svg viewBox=\"0 0 40 40\" width=\"40\" height=\"40\"><circle "
         "cx=\"20\" cy=\"20\" r=\"15\" fill=\"none\" stroke=\"var(--ink)\" stroke-width=\"2.5\" "
         "stroke-dasharray=\"2 5\"/></svg></div>";
}

std::string grade_reasons(const Json& report) {
  const Json* grade = grade_of(report);
  if (!grade) return "";
  const std::string letter = field(*grade, "grade"), could_be = field(*grade, "could_be");
  std::string title = letter == "A" ? "Grade A: what was checked" : "Grade " + letter + ": why not better";
  if (letter.size() != 1) title = "Cannot grade yet";
  std::string lines;
  int n = 0;
  for (const Json& reason : grade->value("reasons", Json::array()))
    if (++n <= 3) lines += "<li>" + escaped(reason.get<std::string>()) + "</li>";
  if (n > 3) lines += "<li>and " + std::to_string(n - 3) + " more, in the table of limits.</li>";
  if (letter.size() == 1)
    lines += "<li>" + letter + " means: " + field(*grade, "meaning") + "." +
             (could_be < letter ? " It may be " + could_be + ": what is too close to call counts against it." : "") +
             " <small>Rubric " + field(*grade, "rubric") + ".</small></li>";
  return "<dt>" + title + "</dt><dd><ul>" + lines + "</ul></dd>";
}

std::string grade_table(const Json& report) {
  const Json* grade = grade_of(report);
  if (!grade || !grade->contains("limits")) return "";
  std::string rows;
  for (const Json& row : (*grade)["limits"]) rows += row_html(row);
  std::string remarks;
  for (const Json& remark : grade->value("remarks", Json::array()))
    remarks += (remarks.empty() ? "" : " ") + escaped(remark.get<std::string>());
  return "<section class=\"keep\" aria-labelledby=\"h-grade\">\n<h2 id=\"h-grade\">Grade <span>every limit of " +
         field(*grade, "rubric") +
         "</span></h2>\n<div class=\"scroll\"><table class=\"meas\"><thead><tr><th scope=\"col\">Measure</th><th "
         "scope=\"col\">This sheet</th><th scope=\"col\">A</th><th scope=\"col\">B</th><th scope=\"col\">Where the "
         "limit comes from</th></tr></thead><tbody>\n" +
         rows + "</tbody></table></div>\n<p class=\"s\" style=\"margin-top:10px\">" + remarks + "</p>\n</section>\n";
}

}  // namespace sheetloupe::page
