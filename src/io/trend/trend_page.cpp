#include "sheetloupe/io/trend_page.h"

#include <array>

#include "io/page/assets.h"
#include "io/trend/parts.h"
#include "io/trend/svg.h"

namespace sheetloupe {
namespace {

using namespace trend_page_parts;
using page::escaped;

std::string str(const Json& json, const char* key) { return escaped(json.value(key, "")); }

// "2026-03-02" as "2 Mar 2026"; anything else as it is.
std::string day(const std::string& iso) {
  constexpr std::array kMonths = {"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  int y = 0, m = 0, d = 0;
  char rest = 0;
  if (std::sscanf(iso.c_str(), "%4d-%2d-%2d%c", &y, &m, &d, &rest) != 3 || m < 1 || m > 12) return escaped(iso);
  return std::to_string(d) + " " + kMonths[static_cast<std::size_t>(m - 1)] + " " + std::to_string(y);
}

std::string cell(const std::string& name, const std::string& value) {
  return "<div><dt>" + name + "</dt><dd>" + value + "</dd></div>\n";
}

std::string head(const Json& model) {
  const Json& s = model["sheets"];
  std::string grades;
  for (const char* grade : {"A", "B", "C", "not graded"})
    if (s["grades"].contains(grade))
      grades += (grades.empty() ? "" : ", ") + std::to_string(s["grades"][grade].get<int>()) + " " + grade;
  const Json& f = model["forecast"];
  std::string html =
      "<header>\n<div class=\"rule\" aria-hidden=\"true\"></div>\n<dl class=\"cells\">\n<div class=\"id "
      "span\"><dt>Sheets</dt><dd>" +
      (s["count"] == 0 ? "none" : str(s, "first") + " to " + str(s, "last")) + "</dd></div>\n";
  html += cell("How many", std::to_string(s["count"].get<int>())) + cell("From", day(s.value("from", ""))) +
          cell("To", day(s.value("to", ""))) + cell("Grades", grades.empty() ? "none" : grades);
  html += cell("Blanks planned", std::to_string(s["blanks"].get<int>())) +
          cell("On flawless sheets", std::to_string(s["flawless"].get<int>())) +
          cell("Turned out good", f["enough"].get<bool>() ? std::to_string(f["good"].get<int>()) + " of " +
                                                                std::to_string(f["judged"].get<int>())
                                                          : "not logged yet") +
          cell("Sheets with a datum", std::to_string(model["density"]["sheets"].get<int>()));
  return html + "</dl>\n</header>\n";
}

std::string section(const std::string& title, const std::string& gloss, const std::string& body) {
  return "<section><h2>" + title + " <span>" + gloss + "</span></h2>\n" + body + "</section>\n";
}

std::string say(const Json& part) {
  const bool quiet = part.contains("points") && part["enough"].get<bool>() && !part.value("recent", false);
  return std::string("<p class=\"") + (quiet ? "s cap" : "say") + "\">" + str(part, "sentence") + "</p>";
}

std::string scrolled(const std::string& svg, const std::string& label) {
  return "<div class=\"sc\" tabindex=\"0\" role=\"group\" aria-label=\"" + label + ", scrolls sideways\">" + svg +
         "</div>";
}

std::string chart_section(const Json& c) {
  std::string body = scrolled(chart_svg(c), str(c, "title"));
  if (c["enough"].get<bool>()) {
    body += "<details><summary>Steps from sheet to sheet</summary>" + scrolled(range_svg(c), "Moving range") +
            "<p class=\"s cap\">The moving range: how far each sheet lies from the one before.</p></details>";
  }
  return section(str(c, "title"), escaped(c["gloss"].get<std::string>()), body + say(c));
}

std::string charts_note(const Json& charts) {
  for (const Json& c : charts) {
    if (!c["enough"].get<bool>()) continue;
    return "<p class=\"s cap\">Limits come from the sheets before the newest: their mean, plus and minus three times "
           "the "
           "scatter that the steps from sheet to sheet show (NIST handbook, individuals chart). A diamond is a point, "
           "or the "
           "end of a run, that chance alone would seldom give: about one in 92 on a steady shop. An upright line is a "
           "sheet's own 95 % interval. The blue line is the "
           "running "
           "mean (EWMA, 0.3). To move a steady measure, change one thing in the recipe and make three sheets.</p>";
  }
  return "";
}

std::string causes(const Json& model) {
  const Json& barred = model["barred"];
  const Json& spoiled = model["spoiled"];
  std::string left =
      barred["enough"].get<bool>()
          ? bars_svg(barred["bars"], "Ring places barred, by cause", 0) +
                "<p class=\"s cap\">Ring places of flawless sheets that a defect would spoil if blanks were drilled "
                "blindly; the plan dodges most of them. " +
                std::to_string(barred["sheets"].get<int>()) + " planned sheets.</p>"
          : "<p class=\"none\">" + str(barred, "reason") + "</p>";
  std::string right = spoiled["enough"].get<bool>()
                          ? bars_svg(spoiled["bars"], "Blanks spoiled, by cause", 0) +
                                "<p class=\"s cap\">What spoiled blanks after all, as logged: " +
                                std::to_string(spoiled["blanks"].get<int>()) + " blanks with an outcome.</p>"
                          : "<p class=\"none\">" + str(spoiled, "reason") + "</p>";
  return "<div class=\"grid2\">\n" + section("What bars ring places", "by cause, before drilling", left + say(barred)) +
         section("What spoiled blanks", "by cause, after turning", right + say(spoiled)) + "</div>\n";
}

std::string places(const Json& model) {
  const Json& d = model["density"];
  std::string words = say(d);
  if (d["enough"].get<bool>())
    words +=
        "<p class=\"s cap\">Circle area is the count; a heavy circle holds more than chance gives. Millimetres from "
        "the datum corner. A dash is a place with none.</p>";
  if (d["left_out"].get<int>() > 0)
    words += "<p class=\"s cap\">" + std::to_string(d["left_out"].get<int>()) +
             " sheets without a datum or a scale are left out: their frame follows the phone.</p>";
  const std::string map = d["enough"].get<bool>()
                              ? density_svg(d)
                              : "<p class=\"none\">" +
                                    std::string(d["sheets"] == 0 ? "no sheet with a datum" : "no defects were found") +
                                    "</p>";
  return section("Where defects gather",
                 std::to_string(d["defects"].get<int>()) + " defects, " + std::to_string(d["sheets"].get<int>()) +
                     " sheets laid on one another",
                 "<div class=\"grid2\"><div>" + map + "</div><div>" + words + "</div></div>");
}

std::string outcomes(const Json& f) {
  const std::string body =
      f["enough"].get<bool>()
          ? scrolled(forecast_svg(f), "Outcomes") +
                "<p class=\"s cap\">Hatched: good. Open: spoiled. Heavy line: planned. Only sheets with an outcome.</p>"
          : "<p class=\"none\">" + str(f, "reason") + "</p>";
  return section("Forecast and outcome", "blanks planned, and what became of them", body + say(f));
}

std::string effect_row(const Json& row) {
  const int digits = row["digits"].get<int>();
  const std::string unit = str(row, "unit");
  const auto figure_text = [&](const char* key) { return text(row[key].get<double>(), digits, true); };
  std::string label = row["label"].get<std::string>();
  label[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(label[0])));
  const bool clear = row["reads"] == "moves with it";
  return "<tr><th scope=\"row\">" + escaped(label) + "</th><td class=\"v\">" + str(row, "words") + " " +
         figure_text("change") +
         (unit.empty()       ? ""
          : unit == "\u00b0" ? unit
                             : " " + unit) +
         " <span class=\"u\">(" + figure_text("low") + " to " + figure_text("high") + ")</span></td><td class=\"gc\">" +
         effect_svg(row) + "</td><td class=\"r\">" + (clear ? "Moves with it" : "Cannot tell yet") +
         (row.contains("changed_with") ? "<br><small>changed together with " + str(row, "changed_with") + "</small>"
                                       : "") +
         "</td></tr>\n";
}

std::string recipe(const Json& e) {
  if (!e["enough"].get<bool>())
    return section("What moved with the recipe", "change and its 95 % interval",
                   "<p class=\"none\">" + str(e, "reason") + "</p>" + say(e));
  std::string rows, leads;
  int n = 0;
  for (const Json& row : e["rows"]) {
    rows += effect_row(row);
    if (row.contains("sentence") && ++n <= 3) leads += "<li>" + str(row, "sentence") + "</li>";
  }
  const std::string body =
      "<div class=\"scroll\"><table class=\"meas rec\"><thead><tr><th scope=\"col\">In the recipe</th><th "
      "scope=\"col\">Goes "
      "with</th><th scope=\"col\">Less &nbsp;|&nbsp; more</th><th scope=\"col\">Reads as</th></tr></thead><tbody>\n" +
      rows + "</tbody></table></div>\n<p class=\"s cap\">" + std::to_string(e["judged"].get<int>()) +
      " pairs of recipe and measure were looked at together; of those named, about one in ten may be chance (Benjamini "
      "and "
      "Hochberg). The bar is in scatters from sheet to sheet and ends at two. What moved along is no proof of "
      "cause.</p>" +
      (leads.empty() ? say(e) : "<ul style=\"margin-top:10px;padding-left:1.15em\">" + leads + "</ul>");
  return section("What moved with the recipe", "change and its 95 % interval", body);
}

}  // namespace

std::string trend_page(const Json& model) {
  const Json& s = model["sheets"];
  const std::string range = s["count"] == 0 ? "no sheets" : str(s, "first") + " to " + str(s, "last");
  // Charts that say something come first, steady ones last.
  std::string loud, steady;
  for (const Json& c : model["charts"])
    (c.value("recent", !c["enough"].get<bool>()) ? loud : steady) += chart_section(c);
  return "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
         "content=\"width=device-width,initial-scale=1\">\n<title>Trends, " +
         range + "</title>\n<link rel=\"icon\" href=\"data:,\">\n<style>\n" + page::kStyle + kTrendStyle +
         "</style>\n</head>\n<body>\n" + head(model) + "<main>\n<div class=\"lead\"><h1>" +
         str(model["headline"], "title") + "</h1><p>" + str(model["headline"], "line") + "</p></div>\n" + loud +
         recipe(model["effects"]) + causes(model) + places(model) + outcomes(model["forecast"]) + steady +
         charts_note(model["charts"]) +
         "</main>\n<footer><div class=\"s\"><p>Everything here is a lead to try, not proof. Intervals are 95 %. "
         "sheetloupe " +
         escaped(model["tool"].value("version", "")) +
         ".</p></div></"
         "footer>\n<script>document.querySelectorAll(\".sc\").forEach(function(e){e.scrollLeft=e.scrollWidth})</"
         "script>\n"
         "</body>\n</html>\n";
}

}  // namespace sheetloupe
