#include "sheetloupe/ring_sizes.h"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <numbers>

namespace sheetloupe {
namespace {

// diameter = zero + step x size
struct Rule {
  SizeSystem system;
  const char* how;
  double zero_mm, step_mm, least, most, parts;  // sizes come in 1 / parts; 0: any
  double sources_differ_mm;
};

constexpr double kPi = std::numbers::pi;
constexpr double kInch = 25.4;
constexpr double kLetters = 26;
constexpr double kBeyondZ = 12;  // Z+12 is 26.7 mm inside: larger rings are ordered by diameter
constexpr Rule kRules[] = {
    {SizeSystem::us, "a size in quarters, 0 to 20", 0.458 * kInch, 0.032 * kInch, 0, 20, 4, 0.11},
    {SizeSystem::uk, "a letter A to Z, or Z+1 to Z+12, perhaps with \" 1/2\"", 37.5 / kPi, 1.25 / kPi, 0,
     kLetters - 1 + kBeyondZ + 0.5, 2, 0.625 / kPi},
    {SizeSystem::jp, "a size from 1 to 40", 13.0 - 1.0 / 3.0, 1.0 / 3.0, 1, 40, 1, 0.0},
    {SizeSystem::iso, "an inner circumference in mm, 30 to 90", 0.0, 1.0 / kPi, 30, 90, 0, 0.0},
};

const Rule& rule_of(SizeSystem system) { return kRules[static_cast<std::size_t>(system)]; }

std::optional<double> number_of(const std::string& text) {
  char* end = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (text.empty() || *end != '\0' || !std::isfinite(value)) return {};
  return value;
}

// A is 0, A 1/2 is 0.5, Z+1 is 26.
std::optional<double> letter_number(std::string text) {
  double half = 0.0;
  if (text.size() > 3 && text.ends_with("1/2")) {
    half = 0.5;
    text.erase(text.size() - 3);
    if (text.back() == ' ') text.pop_back();
  }
  if (text.size() == 1 && text[0] >= 'A' && text[0] <= 'Z') return text[0] - 'A' + half;
  if (!text.starts_with("Z+") || text.size() > 4 || text.find_first_not_of("0123456789", 2) != std::string::npos)
    return {};
  const auto beyond = number_of(text.substr(2));
  if (!beyond || *beyond < 1) return {};
  return kLetters - 1 + *beyond + half;
}

}  // namespace

std::optional<InnerSize> ring_size(SizeSystem system, const std::string& size) {
  const Rule& rule = rule_of(system);
  const auto number = system == SizeSystem::uk ? letter_number(size) : number_of(size);
  if (!number || *number < rule.least || *number > rule.most) return {};
  if (rule.parts > 0 && *number * rule.parts != std::floor(*number * rule.parts)) return {};
  return InnerSize{rule.zero_mm + rule.step_mm * *number, rule.sources_differ_mm};
}

std::string how_written(SizeSystem system) { return rule_of(system).how; }

std::string size_remark(SizeSystem system, const std::string& size) {
  const auto inner = ring_size(system, size);
  if (!inner || inner->sources_differ_mm == 0.0) return "";
  char text[200];
  std::snprintf(text, sizeof text,
                "%s %s is taken as %.2f mm inside; published tables differ by up to %.2f mm%s: measure the finger's "
                "gauge or the mandrel and give inner_diameter_mm where that matters",
                system == SizeSystem::uk ? "UK" : "US", size.c_str(), inner->diameter_mm, inner->sources_differ_mm,
                system == SizeSystem::uk ? ", half a letter" : "");
  return text;
}

}  // namespace sheetloupe
