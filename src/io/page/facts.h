// Facts that several sections tell, drawn from the JSON model in one place so that they cannot disagree.
#pragma once

#include <array>
#include <map>
#include <string>
#include <vector>

#include "io/page/sections.h"

namespace sheetloupe::page {

/// Defects of a face by kind: "dry_spot", "pinhole", "resin_rich".
std::map<std::string, int> defect_counts(const Json& face);
const char* kind_words(const std::string& kind);

/// Number of rings planned, and of ordered rings that found no place.
int placed(const Json& blanks);
int left_over(const Json& blanks);
/// "H-014-07" as "07": what is written on the picture.
std::string short_id(const std::string& blank_id);

/// What a defect means for the planned rings: "Core of 06: drilled away", "No ring takes it", "No plan yet".
std::string for_the_rings(const Model& model, const std::string& defect_id);

/// Total area of a kind of zone on the usable map, mm2.
double zone_area_mm2(const Model& model, const std::string& kind);
double outline_area_mm2(const Model& model);

/// "12, sure", "17 or 18", "cannot tell": of all edges together, the first that is sure, else the first that is near.
std::string plies_words(const Json& report);

/// The feature of the usable map with this id, or null.
const Json* feature_of(const Json& usable, const std::string& id);
/// Its place on the front frame: the point, or the mean of the outline's corners.
std::array<double, 2> place_of(const Json& feature);

}  // namespace sheetloupe::page
