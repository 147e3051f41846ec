#include "sheetloupe/gauge_study.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <vector>

#include "trend/distributions.h"

namespace sheetloupe {
namespace {

using Cells = std::map<std::string, std::map<std::string, std::vector<double>>>;  // part -> appraiser -> repeats

struct Table {
  Cells cells;
  std::set<std::string> appraisers;
  double mean = 0.0;
  std::size_t readings = 0;
};

Table table_of(std::span<const GaugeReading> readings) {
  Table t;
  for (const GaugeReading& r : readings) {
    t.cells[r.part][r.appraiser].push_back(r.value);
    t.appraisers.insert(r.appraiser);
    t.mean += r.value;
  }
  t.readings = readings.size();
  if (t.readings > 0) t.mean /= static_cast<double>(t.readings);
  return t;
}

// Repeats by each appraiser on each part; 0 when they differ.
std::size_t equal_repeats(const Table& t) {
  std::size_t repeats = 0;
  for (const auto& [part, by] : t.cells) {
    if (by.size() != t.appraisers.size()) return 0;
    for (const auto& [who, values] : by) {
      if (repeats == 0) repeats = values.size();
      if (values.size() != repeats) return 0;
    }
  }
  return repeats;
}

GaugeStudy start(const Table& t) {
  GaugeStudy study;
  study.parts = static_cast<int>(t.cells.size());
  study.appraisers = static_cast<int>(t.appraisers.size());
  study.readings = static_cast<int>(t.readings);
  study.mean = t.mean;
  if (study.parts < 2) study.reason = "at least two sheets are needed";
  return study;
}

double mean_of(const std::vector<double>& v) {
  double sum = 0.0;
  for (const double x : v) sum += x;
  return sum / static_cast<double>(v.size());
}

double range_of(const std::vector<double>& v) {
  const auto [low, high] = std::minmax_element(v.begin(), v.end());
  return *high - *low;
}

void finish(GaugeStudy& s, double repeat_variance, double reproduce_variance, double part_variance) {
  s.enough = true;
  s.repeatability = std::sqrt(std::max(0.0, repeat_variance));
  s.reproducibility = std::sqrt(std::max(0.0, reproduce_variance));
  s.part = std::sqrt(std::max(0.0, part_variance));
  s.gauge = std::hypot(s.repeatability, s.reproducibility);
  s.total = std::hypot(s.gauge, s.part);
  s.percent = s.total > 0 ? 100 * s.gauge / s.total : 0.0;
  // 1.41 as AIAG prints it. A gauge without any scatter tells everything apart: shown as 100.
  s.categories_raw = s.gauge > 0 ? std::min(100.0, 1.41 * s.part / s.gauge) : s.part > 0 ? 100.0 : 0.0;
  s.categories = std::max(1, static_cast<int>(s.categories_raw));
}

// One way: parts against repeats, any numbers. Variance of the parts from (MSp - MSe) / n0.
GaugeStudy one_way(const Table& t, GaugeStudy study) {
  double within = 0.0, between = 0.0, squares = 0.0, degrees = 0.0;
  for (const auto& [part, by] : t.cells) {
    const std::vector<double>& v = by.begin()->second;
    const double m = mean_of(v), n = static_cast<double>(v.size());
    for (const double x : v) within += (x - m) * (x - m);
    between += n * (m - t.mean) * (m - t.mean);
    squares += n * n;
    degrees += n - 1;
  }
  if (degrees < 1) {
    study.reason = "no sheet was photographed twice";
    return study;
  }
  const double parts = static_cast<double>(t.cells.size()), n = static_cast<double>(t.readings);
  const double error = within / degrees, part = between / (parts - 1), n0 = (n - squares / n) / (parts - 1);
  finish(study, error, 0.0, (part - error) / n0);
  return study;
}

// Two way with interaction, balanced.
GaugeStudy two_way(const Table& t, GaugeStudy study, std::size_t repeats) {
  const double p = study.parts, a = study.appraisers, r = static_cast<double>(repeats);
  double parts = 0.0, people = 0.0, cells = 0.0, error = 0.0;
  std::map<std::string, double> by_appraiser;
  for (const auto& [part, by] : t.cells) {
    double part_mean = 0.0;
    for (const auto& [who, values] : by) {
      const double m = mean_of(values);
      part_mean += m / a;
      by_appraiser[who] += m / p;
      cells += r * (m - t.mean) * (m - t.mean);
      for (const double x : values) error += (x - m) * (x - m);
    }
    parts += a * r * (part_mean - t.mean) * (part_mean - t.mean);
  }
  for (const auto& [who, m] : by_appraiser) people += p * r * (m - t.mean) * (m - t.mean);
  const double interaction = cells - parts - people;
  const double de = p * a * (r - 1), di = (p - 1) * (a - 1);
  const double me = error / de, mi = interaction / di, mp = parts / (p - 1), ma = people / (a - 1);
  study.interaction_f = me > 0 ? mi / me : 0.0;
  study.interaction_p = trend::f_tail(*study.interaction_f, di, de);
  constexpr double kPoolAbove = 0.25;  // AIAG MSA 4th ed.
  if (*study.interaction_p > kPoolAbove) {
    const double pooled = (error + interaction) / (de + di);
    finish(study, pooled, std::max(0.0, (ma - pooled) / (p * r)), (mp - pooled) / (a * r));
  } else {
    const double joint = std::max(0.0, (mi - me) / r);
    finish(study, me, std::max(0.0, (ma - mi) / (p * r)) + joint, (mp - mi) / (a * r));
  }
  return study;
}

// Constants of the AIAG form: 1 / d2* by number of repeats, appraisers, parts.
constexpr std::array<double, 4> kK1 = {0, 0, 0.8862, 0.5908};
constexpr std::array<double, 4> kK2 = {0, 0, 0.7071, 0.5231};
constexpr std::array<double, 11> kK3 = {0, 0, 0.7071, 0.5231, 0.4467, 0.4030, 0.3742, 0.3534, 0.3375, 0.3249, 0.3146};

}  // namespace

GaugeStudy gauge_by_anova(std::span<const GaugeReading> readings) {
  const Table t = table_of(readings);
  GaugeStudy study = start(t);
  if (!study.reason.empty()) return study;
  if (study.appraisers == 1) return one_way(t, study);
  const std::size_t repeats = equal_repeats(t);
  if (repeats < 2) {
    study.reason = "everybody must photograph every sheet equally often, twice or more";
    return study;
  }
  return two_way(t, study, repeats);
}

GaugeStudy gauge_by_ranges(std::span<const GaugeReading> readings) {
  const Table t = table_of(readings);
  GaugeStudy study = start(t);
  if (!study.reason.empty()) return study;
  const std::size_t repeats = equal_repeats(t), people = t.appraisers.size(), parts = t.cells.size();
  if (repeats < 2 || repeats >= kK1.size() || people >= kK2.size() || parts >= kK3.size()) {
    study.reason = "the range method needs 2 or 3 photos of each of 2 to 10 sheets, by at most 3 people";
    return study;
  }
  double mean_range = 0.0;
  std::map<std::string, double> by_appraiser;
  std::vector<double> part_means;
  for (const auto& [part, by] : t.cells) {
    double part_mean = 0.0;
    for (const auto& [who, values] : by) {
      mean_range += range_of(values) / static_cast<double>(parts * people);
      by_appraiser[who] += mean_of(values) / static_cast<double>(parts);
      part_mean += mean_of(values) / static_cast<double>(people);
    }
    part_means.push_back(part_mean);
  }
  const double ev = mean_range * kK1[repeats];
  double av2 = 0.0;
  if (people > 1) {
    std::vector<double> means;
    for (const auto& [who, m] : by_appraiser) means.push_back(m);
    const double spread = range_of(means) * kK2[people];
    av2 = std::max(0.0, spread * spread - ev * ev / static_cast<double>(parts * repeats));
  }
  const double pv = range_of(part_means) * kK3[parts];
  finish(study, ev * ev, av2, pv * pv);
  return study;
}

}  // namespace sheetloupe
