// A sheet folder (contract, section 3): its photos by role and what the shop knows of the sheet.
#pragma once

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/inspect.h"

namespace sheetloupe {

/// What sheet.json gave, checked. `given` is the object as written, "id" filled in.
struct SheetFacts {
  std::string id;
  LengthStandards standards;
  std::optional<int> datum_strip;
  std::optional<int> plies_laid;
  std::optional<std::string> fabric;
  bool warp_along_y = false;
  Turned turned = Turned::left_right;
  std::vector<std::array<double, 3>> thickness_at_mm;  // x, y, thickness
  std::map<std::string, double> edge_from_mm;
  nlohmann::ordered_json given;
};

struct SheetFolder {
  std::filesystem::path path;
  SheetFacts facts;
  std::vector<std::filesystem::path> front, back;      // in their order: front, front-2, ...
  std::map<std::string, std::filesystem::path> edges;  // side -> file
  std::vector<std::string> without_role;               // photos whose names say no role, by name
};

/// Throws InputError: no such folder, two files for one role, a wrong sheet.json. A folder without a front photo too.
SheetFolder read_sheet_folder(const std::filesystem::path& path);

/// sheet.json's text alone; `id` is used when it names none.
SheetFacts parse_sheet_facts(std::string_view text, const std::string& where, const std::string& id);

}  // namespace sheetloupe
