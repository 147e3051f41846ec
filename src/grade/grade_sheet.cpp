#include <algorithm>
#include <cmath>
#include <cstdio>

#include "grade/measures.h"
#include "sheetloupe/errors.h"

namespace sheetloupe {
namespace {

std::string text(double value, int digits) {
  char buffer[48];
  std::snprintf(buffer, sizeof buffer, "%.*f", digits, value);
  return buffer;
}

std::string with_unit(double value, std::string_view unit, double u95 = 0.0) {
  const int digits = value != std::round(value) && std::abs(value) < 100 ? 1 : 0;
  std::string out = text(value, digits);
  if (u95 >= 0.05) out += " \u00b1" + text(u95, 1);
  if (unit.empty()) return out;
  return out + (unit == "\u00b0" ? "" : " ") + std::string(unit);
}

Verdict against(double limit, bool at_least, double low, double high) {
  if (at_least ? low >= limit : high <= limit) return Verdict::passes;
  if (at_least ? high < limit : low > limit) return Verdict::over;
  return Verdict::too_close_to_call;
}

LimitResult held_against(const GradeInput& input, const Limit& limit) {
  const grading::Figure figure = grading::measure(input, limit);
  LimitResult result;
  result.limit = limit;
  result.value = figure.value;
  result.u95 = figure.u95;
  result.low = figure.low;
  result.high = figure.high;
  result.where = figure.where;
  result.reason = figure.reason;
  if (!figure.value) return result;
  result.against_a = against(limit.a, limit.at_least, figure.low, figure.high);
  result.against_b = against(limit.b, limit.at_least, figure.low, figure.high);
  const auto grade_at = [&](double v) {
    const auto within = [&](double l) { return limit.at_least ? v >= l : v <= l; };
    return within(limit.a) ? 'A' : within(limit.b) ? 'B' : 'C';
  };
  result.best = grade_at(limit.at_least ? figure.high : figure.low);
  result.worst = grade_at(limit.at_least ? figure.low : figure.high);
  return result;
}

// "Largest dry spot 15.2 mm +-0.8 (F1 on the front); B allows up to 14 mm".
std::string sentence(const LimitResult& r, char letter) {
  const MeasureInfo& info = info_of(r.limit.measure);
  std::string s(info.words);
  s[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(s[0])));
  s += ": " + with_unit(*r.value, info.unit, r.u95.value_or(0.0));
  if (!r.where.empty()) s += ", " + r.where;
  const char better = letter == 'C' ? 'B' : 'A';
  const double limit = better == 'A' ? r.limit.a : r.limit.b;
  s += std::string("; ") + better + (r.limit.at_least ? " asks for at least " : " allows up to ") +
       with_unit(limit, info.unit);
  if (r.best < r.worst) {
    s += std::string(". Too close to call between ") + r.best + " and " + r.worst;
    if (!r.reason.empty()) s += ": " + r.reason;
  }
  return s + ".";
}

void refuse(Grade& grade, const std::string& why) {
  grade.graded = false;
  grade.reasons.push_back(why);
}

std::string percent_text(double share) { return text(share, 0) + " %"; }

// Why there can be no grade at all; nothing when there can.
void find_obstacles(const GradeInput& input, const Rubric& rubric, Grade& grade) {
  const auto has = [&](const char* role) {
    return std::find_if(input.faces.begin(), input.faces.end(), [&](const GradeFace& f) { return f.role == role; });
  };
  const auto front = has("front"), back = has("back");
  if (front == input.faces.end() || !front->measured) {
    refuse(grade, "The front was not measured" +
                      (front == input.faces.end() || front->reason.empty() ? "." : ": " + front->reason));
  }
  if (back == input.faces.end() && rubric.back_required)
    refuse(grade, "The back was not photographed, and this rubric asks for it.");
  if (back == input.faces.end() && !rubric.back_required)
    grade.remarks.emplace_back("The back was not photographed: the grade holds for the front only.");
  for (const GradeFace& face : input.faces) {
    if (face.measured && face.judged && face.judged_share < rubric.least_judged_share) {
      refuse(grade, "Only " + percent_text(face.judged_share) + " of the " + face.role +
                        " could be judged; this rubric asks for " + percent_text(rubric.least_judged_share) +
                        ". Move the lamp until the hidden part shows.");
    } else if (face.role == "back" && !face.measured) {
      if (rubric.back_required)
        refuse(grade, "The back was not measured: " + face.reason);
      else
        grade.remarks.push_back("The back was not measured: the grade holds for the front only.");
    }
  }
  for (const LimitResult& r : grade.results) {
    if (!r.limit.required || r.value) continue;
    refuse(grade, "No figure for " + std::string(info_of(r.limit.measure).words) + ": " + r.reason +
                      (r.reason.empty() || r.reason.back() != '.' ? "." : ""));
  }
}

}  // namespace

void check(const Rubric& rubric) {
  const auto fail = [&](const Limit& l, const std::string& what, const std::string& expected) {
    throw InputError({what, "rubric \"" + rubric.name + "\": " + std::string(info_of(l.measure).name), "", expected,
                      "Correct the limit"});
  };
  if (rubric.limits.empty())
    throw InputError({"no limits", "rubric \"" + rubric.name + "\"", "", "at least one limit", ""});
  for (std::size_t i = 0; i < rubric.limits.size(); ++i) {
    const Limit& l = rubric.limits[i];
    if (l.at_least ? l.a < l.b : l.a > l.b)
      fail(l, "A is looser than B", l.at_least ? "A not smaller than B" : "A not larger than B");
    if (l.zone_mm && !info_of(l.measure).zones) fail(l, "this measure has no zones", "no zone_mm");
    if (!l.zone_mm && l.measure == Measure::pinholes_in_zone) fail(l, "the zone is missing", "zone_mm");
    for (std::size_t k = 0; k < i; ++k) {
      const Limit& other = rubric.limits[k];
      if (other.measure == l.measure && other.zone_mm == l.zone_mm) fail(l, "given twice", "one limit a measure");
    }
  }
}

Grade grade_sheet(const GradeInput& input, const Rubric& rubric) {
  check(rubric);
  Grade grade;
  grade.rubric = rubric.name;
  for (const Limit& limit : rubric.limits) grade.results.push_back(held_against(input, limit));
  grade.graded = true;
  find_obstacles(input, rubric, grade);
  const bool any = std::any_of(grade.results.begin(), grade.results.end(), [](const auto& r) { return r.value; });
  if (!any && grade.graded) refuse(grade, "Nothing that this rubric limits was measured.");
  for (const LimitResult& r : grade.results) {
    const std::string words(info_of(r.limit.measure).words);
    if (!r.value) grade.remarks.push_back("Not in the grade: " + words + ", " + r.reason + ".");
  }
  if (!grade.graded) return grade;
  grade.letter = grade.could_be = 'A';
  for (const LimitResult& r : grade.results) {
    if (!r.value) continue;
    grade.letter = std::max(grade.letter, r.worst);
    grade.could_be = std::max(grade.could_be, r.best);
  }
  grade.meaning = rubric.meaning[static_cast<std::size_t>(grade.letter - 'A')];
  for (const LimitResult& r : grade.results) {
    if (r.value && r.worst == grade.letter && grade.letter != 'A') grade.reasons.push_back(sentence(r, grade.letter));
  }
  if (grade.letter == 'A') grade.reasons.emplace_back("Every limit that could be checked is kept.");
  return grade;
}

}  // namespace sheetloupe
