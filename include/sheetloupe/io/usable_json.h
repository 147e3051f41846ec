// The usable map as GeoJSON (RFC 7946 geometry, sheet mm by prior arrangement; contract, section 5).
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "sheetloupe/usable.h"

namespace sheetloupe {

nlohmann::ordered_json usable_map_to_json(const UsableMap& map);

/// Strict: unknown kinds, open rings, wrong types and coordinates that are no numbers are each one InputError.
UsableMap parse_usable_map(std::string_view text, const std::string& where);
UsableMap read_usable_map(const std::filesystem::path& path);

}  // namespace sheetloupe
