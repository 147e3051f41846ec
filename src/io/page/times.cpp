// Where the time of the inspection went, for the footer.
#include <algorithm>

#include "io/page/facts.h"

namespace sheetloupe::page {
namespace {

constexpr double kLeastS = 0.05;  // less rounds to nothing

// The stages of a part that took longest, as "defects 3.1, weave 1.2".
std::string longest(const Json& part) {
  constexpr std::size_t kMost = 3;
  std::vector<std::pair<double, std::string>> stages;
  for (const Json& stage : list_at(part, "stages")) {
    const double s = number_of(at(stage, {"s"}));
    if (s >= kLeastS) stages.emplace_back(s, text_of(stage, "stage"));
  }
  std::stable_sort(stages.begin(), stages.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  if (stages.size() > kMost) stages.resize(kMost);
  std::string words;
  for (const auto& [s, name] : stages) words += (words.empty() ? "" : ", ") + name + " " + number(s, 1);
  return words.empty() ? "" : " (" + words + ")";
}

}  // namespace

std::string where_the_time_went(const Json& times) {
  if (!at(times, {"total_s"}).is_number()) return "";
  std::string words;
  for (const Json& part : list_at(times, "parts")) {
    const double s = number_of(at(part, {"s"}));
    if (s >= kLeastS) words += (words.empty() ? "" : "; ") + text_of(part, "part") + " " + number(s, 1) + longest(part);
  }
  return "<p id=\"times\">The inspection took " + number(times["total_s"], 1) +
         "\u00a0s up to this page. In seconds, " + "faces and edges side by side: " + words + ".</p>";
}

}  // namespace sheetloupe::page
