// models/rubrics/*.json, or a shop's own rubric file.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "sheetloupe/grade.h"

namespace sheetloupe {

inline constexpr const char* kDefaultRubric = "ring-making";

/// Strict: unknown keys and measures, limits that are no numbers or in the wrong order are each one InputError.
Rubric parse_rubric(std::string_view text, const std::string& where);

/// `name_or_file`: the name of a rubric that came with the program, or a file. Throws InputError with the names known.
Rubric read_rubric(const std::string& name_or_file);

/// So that a report holds the rubric it was graded by; parse_rubric reads it back.
nlohmann::ordered_json rubric_to_json(const Rubric& rubric);

}  // namespace sheetloupe
