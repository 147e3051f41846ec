// How much of the variation of a measure is the measuring itself (AIAG, Measurement Systems Analysis, 4th ed.).
#pragma once

#include <optional>
#include <span>
#include <string>

namespace sheetloupe {

struct GaugeReading {
  std::string part;       // the sheet
  std::string appraiser;  // who photographed; empty when there is only one
  double value = 0.0;
};

/// Standard deviations. `reproducibility` is 0 with a single appraiser.
struct GaugeStudy {
  bool enough = false;
  std::string reason;  // why not
  int parts = 0, appraisers = 0, readings = 0;
  double repeatability = 0.0, reproducibility = 0.0, gauge = 0.0, part = 0.0, total = 0.0;
  double percent = 0.0;         // gauge of total
  double categories_raw = 0.0;  // 1.41 part / gauge
  int categories = 0;           // cut to a whole number
  double mean = 0.0;
  std::optional<double> interaction_f, interaction_p;  // two-way only
};

/// By variance analysis. Two and more appraisers need every part measured equally often by each; the interaction is
/// pooled with the error when its p exceeds 0.25. One appraiser: any numbers of repeats.
GaugeStudy gauge_by_anova(std::span<const GaugeReading> readings);

/// By ranges, with the constants of the AIAG form: 2 or 3 repeats, up to 3 appraisers, 2 to 10 parts.
GaugeStudy gauge_by_ranges(std::span<const GaugeReading> readings);

}  // namespace sheetloupe
