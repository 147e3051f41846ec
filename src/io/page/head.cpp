// The ruled cells at the head and the verdict under them.
#include <algorithm>
#include <array>
#include <vector>

#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

bool is_letter(const std::string& grade) { return grade.size() == 1; }

std::string cell(const std::string& name, const std::string& value) {
  return "<div><dt>" + name + "</dt><dd>" + value + "</dd></div>\n";
}

std::string thickness_words(const Model& m) {
  for (const Json& edge : list_at(m.report, "edges")) {
    const Json& t = at(edge, {"thickness_mm"});
    if (at(t, {"mean"}).is_number() && at(m.report, {"sheet", "thickness_mm"}).is_null())
      return measured(t["mean"], at(t, {"u95"}), 1, "mm");
  }
  const Json& given = at(m.report, {"sheet", "thickness_mm"});
  return given.is_number() ? "<span class=\"nb\">" + number(given, 1) + " mm <span class=\"u\">as given</span></span>"
                           : "not said";
}

std::string defects_words(const Json& report) {
  std::string words;
  for (const Json& face : list_at(report, "faces")) {
    if (!in_mm(&face)) continue;
    int n = 0;
    for (const auto& [kind, count] : defect_counts(face)) n += count;
    words += (words.empty() ? "" : ", ") + std::to_string(n) + " on the " + text_of(face, "role");
  }
  return words.empty() ? "cannot tell" : words;
}

std::string scale_words(const std::string& source) {
  if (source == "strips") return "from the strips";
  if (source == "strips+size") return "from strips and sides";
  return source == "sides" ? "from the sides" : "";
}

// Measured in mm, yet a defect smaller than this would not have been seen.
std::string face_sentence(const Json& face) {
  const std::string name = sentence(text_of(face, "role"));
  if (!in_mm(&face)) return name + ": " + text_of(face, "reason", "not measured");
  if (list_at(at(face, {"defects"}), "items").empty()) {
    const Json& smallest = at(face, {"defects", "smallest_pinhole_mm"});
    if (!smallest.is_number()) return name + ": " + text_of(at(face, {"defects"}), "reason", "not judged") + ".";
    return name + ": nothing found from " + number(smallest, 1) +
           "\u00a0mm up. Smaller pinholes cannot be seen in this photo.";
  }
  const auto count = defect_counts(face);
  std::string words;
  for (const auto& [kind, one, many] :
       {std::array{"dry_spot", "dry spot", "dry spots"}, std::array{"pinhole", "pinhole", "pinholes"},
        std::array{"resin_rich", "resin-rich pool", "resin-rich pools"}}) {
    if (count.contains(kind)) words += (words.empty() ? "" : ", ") + plural(count.at(kind), one, many);
  }
  return name + ": " + words + ".";
}

std::string weave_sentence(const Model& m) {
  const Json* front = face_of(m.report, "front");
  if (!in_mm(front)) return "";
  const Json& w = at(*front, {"weave"});
  if (!at(w, {"warp_deg"}).is_number())
    return "The weave could not be read: " + text_of(w, "reason", "no reason given");
  std::string words =
      "A tow leans " + measured(at(w, {"deviation_deg", "max"}), at(w, {"deviation_deg", "max_u95"}), 1, "\u00b0") +
      " at most; 95 % of the front within " +
      measured(
          std::max(number_of(at(w, {"deviation_deg", "warp_p95"})), number_of(at(w, {"deviation_deg", "weft_p95"}))),
          at(w, {"local_u95_deg"}), 1, "\u00b0") +
      ".";
  return words;
}

std::string rings_words(const Model& m) {
  if (!m.blanks.is_object()) return "";
  const int in = placed(m.blanks), out = left_over(m.blanks);
  if (in + out == 0) return "no ring was asked for";
  if (out == 0) return in == 1 ? "the ring fits" : "all " + std::to_string(in) + " rings fit";
  return std::to_string(in) + " of " + std::to_string(in + out) + " rings fit";
}

std::string headline(const Model& m) {
  const Json* front = face_of(m.report, "front");
  if (!front || at(*front, {"status"}) == "not_measured") return "Cannot tell: the front was not measured.";
  if (at(*front, {"status"}) == "measured_in_px") return "Measured in pixels only: there is no length standard.";
  const std::string grade = text_of(at(m.report, {"grade"}), "grade");
  const std::string usable = measured(100 * number_of(at(m.report, {"usable", "fraction"})),
                                      100 * number_of(at(m.report, {"usable", "fraction_u95"})), 1, "%") +
                             " of the sheet can be used";
  const std::string rings = rings_words(m);
  return (is_letter(grade) ? "Grade " + grade + ". " : "") + usable + (rings.empty() ? "" : "; " + rings) + ".";
}

std::vector<std::string> found_lines(const Model& m) {
  std::vector<std::string> lines;
  for (const Json& face : list_at(m.report, "faces")) lines.push_back(face_sentence(face));
  const std::string weave = weave_sentence(m);
  if (!weave.empty()) lines.push_back(weave);
  for (const Json& remark : list_at(m.report, "remarks")) {
    if (remark.is_string()) lines.push_back(escaped(remark.get<std::string>()));
  }
  return lines;
}

// The rings whose place leaves least room are sawn last and looked at. Those within a tenth of the least read alike.
std::string closest_rings(const Model& m) {
  constexpr double kRoomyMm = 1.0, kAlikeMm = 0.1;
  constexpr std::size_t kMostNamed = 6;
  double least = kRoomyMm;
  for (const Json& blank : list_at(m.blanks, "blanks"))
    least = std::min(least, number_of(at(blank, {"clearance_mm"}), kRoomyMm));
  if (least >= kRoomyMm) return "";
  std::vector<std::string> rings;
  for (const Json& blank : list_at(m.blanks, "blanks")) {
    if (number_of(at(blank, {"clearance_mm"}), kRoomyMm) < least + kAlikeMm)
      rings.push_back("<b>" + escaped(short_id(at(blank, {"id"}).get<std::string>())) + "</b>");
  }
  const std::size_t all = rings.size();
  if (all > kMostNamed) {
    rings.resize(kMostNamed - 1);
    rings.push_back(std::to_string(all - kMostNamed + 1) + " more");
  }
  std::string names;
  for (std::size_t i = 0; i < rings.size(); ++i)
    names += (i == 0 ? "" : i + 1 == rings.size() ? " and " : ", ") + rings[i];
  return std::string(all == 1 ? "Saw ring " : "Saw rings ") + names + " last. " +
         (least < 0.05 ? "No room is" : "Only " + number(least, 1) + "\u00a0mm are") +
         " left to a defect beyond all allowances: look at each plug before you turn it.";
}

std::vector<std::string> next_steps(const Model& m) {
  std::vector<std::string> steps;
  for (const Json& face : list_at(m.report, "faces")) {
    for (const Json& line : list_at(face, "advice"))
      steps.push_back(sentence(text_of(face, "role")) + ": " + escaped(line.get<std::string>()));
  }
  if (!face_of(m.report, "back")) steps.emplace_back("Photograph the back. Every ring takes material from it too.");
  const std::string closest = closest_rings(m);
  if (!closest.empty()) steps.push_back(closest);
  steps.emplace_back(m.blanks.is_null() ? "Plan the rings: <code>sheetloupe place FOLDER --orders orders.json</code>."
                                        : "Print the template at 100 % and check both rules before you drill.");
  if (steps.size() > 3) steps.resize(3);
  return steps;
}

// The box: the letter, or a dotted ring where none can be given.
std::string badge(const std::string& letter) {
  if (is_letter(letter)) return "<div class=\"g\" aria-hidden=\"true\">" + letter + "</div>\n";
  return "<div class=\"g\" aria-hidden=\"true\"><svg viewBox=\"0 0 40 40\" width=\"40\" height=\"40\"><circle "
         "cx=\"20\" "
         "cy=\"20\" r=\"16\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"3\" stroke-dasharray=\"0.1 7.08\" "
         "stroke-linecap=\"round\"/></svg></div>\n";
}

// What the letter means and what was not looked at.
std::string under_headline(const Model& m) {
  const Json& grade = at(m.report, {"grade"});
  std::string words;
  if (is_letter(text_of(grade, "grade"))) words = sentence(text_of(grade, "meaning")) + ". ";
  words += face_of(m.report, "back") ? "Both faces were photographed." : "The back was not photographed.";
  double judged = 1;
  for (const Json& face : list_at(m.report, "faces"))
    judged = std::min(judged, number_of(at(face, {"defects", "judged_fraction"}), 1.0));
  if (judged < 0.995) words += " Only " + number(100 * judged, 1) + " % of a face could be judged.";
  return words;
}

}  // namespace

std::string head(const Model& m) {
  const Json& sheet = at(m.report, {"sheet"});
  const Json* front = face_of(m.report, "front");
  const bool mm = in_mm(front);
  const std::string id = text_of(sheet, "id");
  std::string html =
      "<header>\n<div class=\"rule\" aria-hidden=\"true\"></div>\n<dl class=\"cells\">\n<div class=\"id" +
      std::string(id.size() > 9 ? " span" : "") + "\"><dt>Sheet</dt><dd>" + (id.empty() ? "no name" : id) +
      "</dd></div>\n";
  html += cell("Made", date_words(text_of(sheet, "made", "not said")));
  html += cell("Cloth", text_of(sheet, "fabric", "not said"));
  html += cell("Weave read", mm ? weave_words(text_of(at(*front, {"weave"}), "pattern", "unknown")) : "cannot tell");
  html += cell("Plies on the edge", plies_words(m.report));
  html += cell("Size", mm ? number((*front)["outline"]["width_mm"], 1) + " \u00d7 " +
                                number((*front)["outline"]["height_mm"], 1) + "\u00a0mm <span class=\"u\">\u00b1" +
                                number((*front)["outline"]["side_u95_mm"], 1) + "</span>"
                          : "cannot tell");
  html += cell("Thickness", thickness_words(m));
  html += cell("Defects found", defects_words(m.report));
  html += cell("Positions true to", mm ? "<span class=\"nb\">\u00b1" + number((*front)["scale"]["position_u95_mm"], 2) +
                                             " mm</span> <span class=\"u\">" +
                                             scale_words(text_of((*front)["scale"], "source")) + "</span>"
                                       : "cannot tell");
  return html + "</dl>\n</header>\n";
}

std::string verdict(const Model& m) {
  const Json& grade = at(m.report, {"grade"});
  const std::string letter = text_of(grade, "grade"), could_be = text_of(grade, "could_be");
  const bool graded = is_letter(letter);
  const auto why = grade_reasons(m.report);
  std::string reasons;
  if (!why.empty())
    reasons = "<dt>" +
              std::string(!graded         ? "Cannot grade yet"
                          : letter == "A" ? "What was checked"
                                          : "Why not A") +
              "</dt><dd>" + list(why) + "</dd>\n";
  if (graded && could_be < letter && is_letter(could_be))
    reasons +=
        "<dt>Too close to call</dt><dd>It may be " + could_be + ": what is too close to call counts against it.</dd>\n";
  return "<div class=\"verdict\">\n" + badge(letter) + "<div><h1>" + headline(m) + "</h1><p>" + under_headline(m) +
         "</p></div></div>\n<dl class=\"lab side2\"><div>" + reasons + "<dt>What was found</dt><dd>" +
         list(found_lines(m)) + "</dd></div>\n<div><dt>Next</dt><dd>" + list(next_steps(m), "ol") +
         "</dd></div></dl>\n";
}

}  // namespace sheetloupe::page
