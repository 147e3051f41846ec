// orders.json (contract, section 6) and blanks.json (section 7).
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

#include "sheetloupe/placement.h"

namespace sheetloupe {

/// Strict; sizes by US, UK, JP, ISO or mm are turned into mm here. Without "saws" the kit of models/saws.json is used.
Orders parse_orders(std::string_view text, const std::string& where);
Orders read_orders(const std::filesystem::path& path);

/// What the rings' sizes leave open, each remark once.
std::vector<std::string> size_remarks(const Orders& orders);

nlohmann::ordered_json plan_to_json(const Plan& plan);
/// The holes of an earlier plan, for a half-used sheet.
std::vector<Circle> read_taken(const std::filesystem::path& path);
/// Blank ids and hole centres from the datum corner, mm and inch; RFC 4180.
std::string plan_to_csv(const Plan& plan);

}  // namespace sheetloupe
