// The plan: a line for each order, the room that is left, and every hole centre.
#include <algorithm>
#include <cmath>
#include <map>

#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

struct OrderLine {
  const Json* first = nullptr;
  int placed = 0, left_over = 0;
  std::string reason;
};

// By ring name, in the order of their first blank.
std::vector<std::pair<std::string, OrderLine>> order_lines(const Json& blanks) {
  std::vector<std::pair<std::string, OrderLine>> lines;
  const auto line = [&](const std::string& name) -> OrderLine& {
    for (auto& [known, order] : lines) {
      if (known == name) return order;
    }
    return lines.emplace_back(name, OrderLine{}).second;
  };
  for (const Json& blank : list_at(blanks, "blanks")) {
    OrderLine& order = line(text_of(blank, "ring"));
    if (!order.first) order.first = &blank;
    ++order.placed;
  }
  for (const Json& u : list_at(blanks, "unplaced")) {
    OrderLine& order = line(text_of(u, "ring"));
    order.left_over += static_cast<int>(number_of(at(u, {"count"})));
    order.reason = text_of(u, "reason");
  }
  return lines;
}

std::string order_table(const Json& blanks) {
  std::string rows;
  for (const auto& [name, order] : order_lines(blanks)) {
    const bool known = order.first != nullptr;
    const double inner = known ? number_of(at(*order.first, {"inner_diameter_mm"})) : 0,
                 outer = known ? number_of(at(*order.first, {"outer_diameter_mm"})) : 0;
    rows += "<tr><th scope=\"row\">" + name + "</th><td class=\"n\">" + (known ? number(inner, 2) : "") +
            "</td><td class=\"n\">" + (known ? number((outer - inner) / 2, 1) : "") + "</td><td class=\"n\">" +
            (known ? text_of(*order.first, "saw") : "") + "</td><td class=\"n nb\">" + std::to_string(order.placed) +
            (order.left_over > 0 ? " of " + std::to_string(order.placed + order.left_over) : "") + "</td></tr>\n";
    if (!order.reason.empty())
      rows += "<tr><td colspan=\"5\">" + std::to_string(order.left_over) + " of " + name +
              " found no place: " + order.reason + ".</td></tr>\n";
  }
  return "<div class=\"scroll\"><table><thead><tr><th scope=\"col\">Order line</th><th scope=\"col\" "
         "class=\"n\">Inside, mm</th><th scope=\"col\" class=\"n\">Wall, mm</th><th scope=\"col\" "
         "class=\"n\">Saw</th><th "
         "scope=\"col\" class=\"n\">Placed</th></tr></thead><tbody>\n" +
         rows + "</tbody></table></div>\n";
}

// Material between the two closest saw circles.
std::string thinnest_web(const Json& list) {
  double least = 1e9;
  std::string between;
  for (std::size_t i = 0; i < list.size(); ++i) {
    for (std::size_t j = i + 1; j < list.size(); ++j) {
      const double web = std::hypot(number_of(list[i]["centre_mm"][0]) - number_of(list[j]["centre_mm"][0]),
                                    number_of(list[i]["centre_mm"][1]) - number_of(list[j]["centre_mm"][1])) -
                         (number_of(at(list[i], {"saw_outer_mm"})) + number_of(at(list[j], {"saw_outer_mm"}))) / 2;
      if (web >= least) continue;
      least = web;
      between = short_id(text_of(list[i], "id")) + " and " + short_id(text_of(list[j], "id"));
    }
  }
  return between.empty() ? "" : number(least, 1) + " mm, between " + between;
}

std::string closest_defect(const Json& list) {
  const Json* closest = nullptr;
  for (const Json& blank : list) {
    if (!at(blank, {"clearance_mm"}).is_number()) continue;
    if (!closest || number_of(blank["clearance_mm"]) < number_of((*closest)["clearance_mm"])) closest = &blank;
  }
  if (!closest) return "";
  const double least = number_of((*closest)["clearance_mm"]);
  return (least < 0.05 ? "no room" : number(least, 1) + " mm") + " beyond all allowances, at ring " +
         short_id(text_of(*closest, "id"));
}

std::string side_notes(const Json& blanks) {
  const Json& list = list_at(blanks, "blanks");
  std::string html;
  std::map<std::string, std::string> saws;
  for (const Json& blank : list)
    saws[text_of(blank, "saw")] =
        number(at(blank, {"saw_outer_mm"}), 1) + " mm, cut " + number(at(blank, {"kerf_mm"}), 1) + " mm";
  std::string saw_words;
  for (const auto& [name, size] : saws) saw_words += (saw_words.empty() ? "" : "; ") + name + ": " + size;
  if (!saw_words.empty()) html += entry("Saws", saw_words);
  const int flawless = static_cast<int>(number_of(at(blanks, {"bound", "flawless_sheet"})));
  const int proven = static_cast<int>(number_of(at(blanks, {"bound", "proven"})));
  if (flawless > 0)
    html += entry("Room", std::to_string(flawless) +
                              " of the smallest saw on a sheet without a flaw; no plan holds more than " +
                              std::to_string(proven));
  const std::string web = thinnest_web(list), closest = closest_defect(list);
  if (!web.empty()) html += entry("Thinnest web", web);
  if (!closest.empty()) html += entry("Closest defect", closest);
  return html.empty() ? "" : "<dl class=\"lab\">" + html + "</dl>\n";
}

// Suspects stand in no table of finds: their number alone would say nothing.
std::string named(const Model& m, const std::string& defect_id) {
  const Json* feature = feature_of(m.usable, defect_id);
  const bool suspect = feature && at(*feature, {"properties", "defect"}) == "suspect";
  return escaped(defect_id) + (suspect ? ", a suspect" : "");
}

std::string hole_table(const Model& m) {
  std::string rows;
  for (const Json& b : list_at(m.blanks, "blanks")) {
    std::string harmless;
    for (const Json& id : list_at(b, "harmless_defects"))
      harmless += (harmless.empty() ? "" : ", ") + named(m, id.get<std::string>());
    const std::string id = text_of(b, "id");
    rows += "<tr data-id=\"" + id + "\" data-x=\"" + number(b["centre_mm"][0], 1) + "\" data-y=\"" +
            number(b["centre_mm"][1], 1) +
            "\"><th scope=\"row\"><button type=\"button\" class=\"link\" aria-label=\"Ring " + id +
            ": show in the picture\">" + short_id(id) + "</button> " + text_of(b, "ring") +
            "</th><td class=\"n fx\" data-k=\"x\">" + number(b["centre_mm"][0], 1) +
            "</td><td class=\"n fx y\" data-k=\"y\">" + number(b["centre_mm"][1], 1) + "</td><td class=\"n h\">" +
            text_of(b, "saw") + "</td><td class=\"n sz\">" +
            (at(b, {"clearance_mm"}).is_number()
                 ? "<span class=\"nb\">" + number(b["clearance_mm"], 1) + "<span class=\"k\"> mm clear</span></span>"
                 : "free") +
            "</td><td class=\"w\">" + harmless + "</td></tr>\n";
  }
  return "<div class=\"scroll\"><table class=\"find\"><thead><tr><th scope=\"col\">Ring</th><th scope=\"col\" "
         "class=\"n\">x, "
         "mm</th><th scope=\"col\" class=\"n\">y, mm</th><th scope=\"col\" class=\"n h\">Saw</th><th scope=\"col\" "
         "class=\"n\">Clear by, mm</th><th scope=\"col\">Harmless in core or cut</th></tr></thead><tbody>\n" +
         rows + "</tbody></table></div>\n";
}

}  // namespace

std::string rings(const Model& m) {
  if (!m.blanks.is_object()) return "";
  const int in = placed(m.blanks), out = left_over(m.blanks);
  return section(
      "rings", "Rings", std::to_string(in) + (out > 0 ? " of " + std::to_string(in + out) : "") + " placed",
      "<div class=\"two\"><div>" + order_table(m.blanks) + "</div>" + side_notes(m.blanks) +
          "</div>\n<details><summary>Hole centres, all " + std::to_string(in) + "</summary>\n<div class=\"holes\">" +
          hole_table(m) +
          "</div></details>\n<p class=\"s\">The same numbers stand in <b>blanks.csv</b>; <b>drill-template.pdf</b> "
          "prints them 1:1.</p>\n",
      false);
}

}  // namespace sheetloupe::page
