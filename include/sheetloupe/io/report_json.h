// report.json (contract, section 4): every figure of an inspection, nothing in mm where there is no scale, null with a
// reason where something was not measured.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>

#include "sheetloupe/inspect.h"

namespace sheetloupe {

nlohmann::ordered_json edge_to_json(const EdgeReading& edge);
nlohmann::ordered_json laminate_to_json(const Laminate& laminate);
nlohmann::ordered_json face_to_json(const FaceResult& face);

/// `sheet`: what sheet.json gave, an object with at least "id". No clock and no path goes in: the same photos give the
/// same bytes.
nlohmann::ordered_json report_to_json(const Inspection& inspection, const nlohmann::ordered_json& sheet);

/// How the laid count fits, as a sentence and a line end; empty when none was given.
std::string laid_words(const EdgeReading& edge);

}  // namespace sheetloupe
