#include "sheetloupe/io/sheet_folder.h"

#include <algorithm>
#include <cctype>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

// What a rule and a caliper read to, 95 %.
constexpr double kRuleU95 = 0.3, kCaliperU95 = 0.1;

std::optional<Measured> measured(const std::optional<double>& value, double u95) {
  if (!value) return {};
  return Measured{*value, u95};
}

template <std::size_t N>
std::optional<std::array<double, N>> as_array(const std::optional<std::vector<double>>& list) {
  if (!list) return {};
  std::array<double, N> result{};
  std::copy(list->begin(), list->end(), result.begin());
  return result;
}

LengthStandards standards_of(const JsonReader& r) {
  LengthStandards s;
  s.thickness_mm = measured(r.number("thickness_mm", 0.2, 60), kCaliperU95);
  // A print is off by a per cent or two at most; 10 % is a slip of the pen or another strip.
  s.strip_length_mm = measured(r.number("strip_length_mm", 225, 275), kRuleU95);
  s.strip_bar_mm = measured(r.number("strip_bar_mm", 126, 154), kCaliperU95);
  s.strip_height_mm = r.number("strip_height_mm", 0, 60).value_or(0.0);
  s.size_mm = as_array<2>(r.numbers("size_mm", {2}, 10, 2000));
  s.sides_mm = as_array<4>(r.numbers("sides_mm", {4}, 10, 2000));
  s.diagonals_mm = r.numbers("diagonals_mm", {1, 2}, 10, 3000).value_or(std::vector<double>{});
  s.size_u95_mm = r.number("size_u95_mm", 0.01, 20).value_or(0.6);
  return s;
}

void read_thickness_at(const JsonReader& r, SheetFacts& facts) {
  if (!r.has("thickness_at_mm")) return;
  const Json& list = r.json()["thickness_at_mm"];
  if (!list.is_array()) r.fail("thickness_at_mm", "a list of [x, y, thickness]");
  for (const Json& point : list) {
    if (!point.is_array() || point.size() != 3 ||
        !std::all_of(point.begin(), point.end(), [](const Json& v) { return v.is_number(); })) {
      r.fail("thickness_at_mm", "a list of [x, y, thickness], mm");
    }
    facts.thickness_at_mm.push_back({point[0].get<double>(), point[1].get<double>(), point[2].get<double>()});
    if (facts.thickness_at_mm.back()[2] <= 0) r.fail("thickness_at_mm", "thicknesses above 0");
  }
}

// Roles by name: front, front-2, back, back-2, edge-top ...
struct Role {
  std::string name;
  int number = 1;
};

std::optional<Role> role_of(const fs::path& file) {
  std::string stem = file.stem().string();
  std::transform(stem.begin(), stem.end(), stem.begin(), [](unsigned char c) { return std::tolower(c); });
  for (const char* edge : {"edge-top", "edge-right", "edge-bottom", "edge-left"}) {
    if (stem == edge) return Role{stem, 1};
  }
  for (const std::string face : {"front", "back"}) {
    if (stem == face) return Role{face, 1};
    if (!stem.starts_with(face + "-")) continue;
    const std::string number = stem.substr(face.size() + 1);
    const bool plain = !number.empty() && number.size() <= 2 && number[0] != '0' &&
                       std::all_of(number.begin(), number.end(), [](unsigned char c) { return std::isdigit(c) != 0; });
    if (plain && number != "1") return Role{face, std::stoi(number)};
  }
  return {};
}

}  // namespace

SheetFacts parse_sheet_facts(std::string_view text, const std::string& where, const std::string& id) {
  SheetFacts facts;
  facts.given = parse_json(text, where);
  const JsonReader r(facts.given, where);
  r.only({"schema_version", "id", "made", "thickness_mm", "strip_length_mm", "strip_bar_mm", "strip_height_mm", "top",
          "size_mm", "sides_mm", "diagonals_mm", "size_u95_mm", "plies_laid", "fabric", "warp", "turned",
          "thickness_at_mm", "edge_from_mm", "recipe"});
  r.schema_version(1);
  facts.id = r.text("id").value_or(id);
  r.text("made");
  facts.standards = standards_of(r);
  if (const auto top = r.choice("top", {"strip-0", "strip-1", "strip-2", "strip-3"}))
    facts.datum_strip = top->back() - '0';
  facts.plies_laid = r.integer("plies_laid", 1, 200);
  facts.fabric = r.text("fabric");
  facts.warp_along_y = r.choice("warp", {"x", "y"}).value_or("x") == "y";
  facts.turned = r.choice("turned", {"left-right", "top-bottom"}).value_or("left-right") == "top-bottom"
                     ? Turned::top_bottom
                     : Turned::left_right;
  read_thickness_at(r, facts);
  if (const auto from = r.object("edge_from_mm")) {
    from->only({"top", "right", "bottom", "left"});
    for (const char* side : {"top", "right", "bottom", "left"}) {
      if (const auto mm = from->number(side, 0, 2000)) facts.edge_from_mm[side] = *mm;
    }
  }
  r.object("recipe");
  facts.given["id"] = facts.id;
  return facts;
}

SheetFolder read_sheet_folder(const fs::path& path) {
  std::error_code error;
  if (!fs::exists(path, error))
    throw InputError(
        {"no such folder", path.string(), "", "a sheet folder", "Make one with: sheetloupe new FOLDER PHOTO ..."});
  if (!fs::is_directory(path, error))
    throw InputError({"not a folder", path.string(), "a file", "a sheet folder with front.jpg in it", ""});
  SheetFolder folder;
  folder.path = path;
  std::map<std::pair<std::string, int>, fs::path> files;
  for (const auto& entry : fs::directory_iterator(path, error)) {
    if (!is_photo_name(entry.path())) continue;
    const auto role = role_of(entry.path());
    if (!role) {
      folder.without_role.push_back(entry.path().filename().string());
      continue;
    }
    const auto [there, added] = files.try_emplace({role->name, role->number}, entry.path());
    if (!added) {
      std::string a = there->second.filename().string(), b = entry.path().filename().string();
      if (b < a) std::swap(a, b);
      throw InputError(
          {"two files for one role", path.string(), a + " and " + b, "one", "Remove or rename one of them"});
    }
  }
  std::sort(folder.without_role.begin(), folder.without_role.end());
  if (error) throw InputError({"the folder cannot be read", path.string(), error.message(), "", "Allow reading it"});
  for (const auto& [role, file] : files) {
    if (role.first == "front")
      folder.front.push_back(file);
    else if (role.first == "back")
      folder.back.push_back(file);
    else
      folder.edges[role.first.substr(5)] = file;
  }
  if (!files.contains({"front", 1})) {
    throw InputError({"no front photo", path.string(),
                      folder.front.empty() ? "" : "only " + folder.front[0].filename().string(),
                      "front.jpg (.png .tif .heic)",
                      folder.without_role.empty()
                          ? "Save the photo of the front face under that name"
                          : "Rename the photo of the front face so; there is " + folder.without_role.front()});
  }
  const std::string id = fs::weakly_canonical(path).filename().string();
  const fs::path facts = path / "sheet.json";
  folder.facts = fs::exists(facts, error)
                     ? parse_sheet_facts(read_file(facts, std::size_t{1} << 20U), facts.string(), id)
                     : parse_sheet_facts("{}", facts.string(), id);
  return folder;
}

}  // namespace sheetloupe
