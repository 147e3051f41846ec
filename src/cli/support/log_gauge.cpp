#include "cli/support/log_gauge.h"

#include <algorithm>
#include <iomanip>
#include <ostream>

#include "io/report/json_figures.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/gauge_study.h"
#include "sheetloupe/io/log.h"

namespace sheetloupe::cli {
namespace {

// Who held the phone, when the shop wrote it into the recipe.
constexpr const char* kPerson = "photographed_by";

// Measures that the photo gives; what sheet.json or the plan gives does not belong here.
bool measured_from_photos(const std::string& name) {
  static const std::vector<std::string> others = {"blanks",          "flawless",       "smallest_pinhole_mm",
                                                  "position_u95_mm", "judged_percent", "ring_yield_percent"};
  return std::find(others.begin(), others.end(), name) == others.end();
}

std::vector<GaugeReading> readings_of(const std::vector<Inspected>& photos, const std::string& measure) {
  const bool people = std::all_of(photos.begin(), photos.end(), [](const Inspected& i) {
    const auto it = i.recipe.find(kPerson);
    return it != i.recipe.end() && std::holds_alternative<std::string>(it->second);
  });
  std::vector<GaugeReading> readings;
  for (const Inspected& i : photos) {
    const auto it = i.measures.find(measure);
    if (it == i.measures.end()) continue;
    readings.push_back({i.sheet, people ? std::get<std::string>(i.recipe.at(kPerson)) : "", it->second.value});
  }
  return readings;
}

// The guide of AIAG, Measurement Systems Analysis, 4th ed.: under 10 % good, to 30 % of use for some ends, five
// categories to tell sheets apart.
std::string verdict(const GaugeStudy& s) {
  if (s.percent < 10) return "tells sheets apart well";
  if (s.percent <= 30 && s.categories >= 5) return "tells good from poor sheets";
  if (s.percent <= 30) return "tells only clear differences";
  return "cannot tell these sheets apart: take several photos and look at their mean";
}

Json study_json(const MeasureName& name, const GaugeStudy& s, const GaugeStudy& ranges) {
  Json json = {{"measure", name.name},
               {"unit", name.unit},
               {"sheets", s.parts},
               {"people", s.appraisers},
               {"photos", s.readings},
               {"enough", s.enough},
               {"reason", s.enough ? Json(nullptr) : Json(s.reason)}};
  if (!s.enough) return json;
  json["mean"] = figure(s.mean, 4);
  json["repeatability_sd"] = figure(s.repeatability, 5);
  json["reproducibility_sd"] = figure(s.reproducibility, 5);
  json["gauge_sd"] = figure(s.gauge, 5);
  json["sheet_sd"] = figure(s.part, 5);
  json["gauge_percent"] = figure(s.percent, 2);
  json["distinct_categories"] = s.categories;
  json["verdict"] = verdict(s);
  json["range_method_percent"] = ranges.enough ? figure(ranges.percent, 2) : Json(nullptr);
  return json;
}

void print_study(const MeasureName& name, const GaugeStudy& s, std::ostream& out) {
  out << name.words << (name.unit[0] ? std::string(", ") + name.unit : "") << ": ";
  if (!s.enough) {
    out << s.reason << '\n';
    return;
  }
  // Two photos of one sheet differ by less than 1.96 sqrt(2) standard deviations in 95 of 100.
  out << std::fixed << std::setprecision(name.digits + 1) << "two photos of a sheet differ by up to " << 2.772 * s.gauge
      << " (95 %); sheets scatter by " << s.part << std::setprecision(1) << "; the measuring is " << s.percent
      << " % of the variation, " << s.categories << (s.categories == 1 ? " category" : " categories") << ": "
      << verdict(s) << ".\n";
}

}  // namespace

int run_gauge(const std::vector<std::string>& folders, bool json, const Streams& streams) {
  std::vector<Inspected> photos;
  for (const std::string& folder : folders) photos.push_back(read_inspected(folder));
  Json all = {{"schema_version", 1}, {"method", "variance analysis (AIAG MSA, 4th ed.)"}, {"measures", Json::array()}};
  bool any = false;
  for (const MeasureName& name : log_measures()) {
    const auto readings = readings_of(photos, name.name);
    if (readings.empty() || !measured_from_photos(name.name)) continue;
    const GaugeStudy study = gauge_by_anova(readings);
    any = any || study.enough;
    if (json)
      all["measures"].push_back(study_json(name, study, gauge_by_ranges(readings)));
    else
      print_study(name, study, streams.out);
  }
  if (json) streams.out << all.dump(1) << '\n';
  if (!any && !json) {
    streams.out
        << "Not enough for a gauge study: photograph two sheets or more, each twice or more, one folder a photo, "
           "with the sheet's own id in every sheet.json.\n";
  }
  return any ? kDone : kPartlyAnswered;
}

}  // namespace sheetloupe::cli
