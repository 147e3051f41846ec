// A sheet folder (contract, section 3) laid from a phone's files.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace sheetloupe {

/// What is known of a photo before its role is.
struct PhotoClue {
  std::filesystem::path file;
  std::optional<std::string> taken;  // "2026-03-02T14:05:00"
  int markers = 0;                   // strip markers seen in it
};

struct RoleProposal {
  std::filesystem::path from;
  std::string file;      // name in the sheet folder: "front.heic", "front-2.jpg", "edge-top.jpg"
  std::string why;       // one clause for a person
  bool guessed = false;  // not told by the photo's own name: to be looked at
};

/// Roles by name where it says front, back or edge and a side; else photos with strips are faces and, beside such,
/// photos without are edges, both in the order they were taken. Throws InputError: two photos named for one edge, more
/// edges than sides, no front photo.
std::vector<RoleProposal> propose_roles(const std::vector<PhotoClue>& photos);

struct NewFolder {
  std::vector<RoleProposal> photos;
  bool sheet_json_kept = false;  // one was there already and was left alone
};

/// Copies the photos, byte for byte, under their proposed names, and writes a sheet.json to fill in with an example
/// beside it. Everything is checked before anything is written, nothing is overwritten, and a failed copy leaves none
/// behind. Throws InputError: not a photo, a role already filled in the folder, the folder is a file or not writable.
NewFolder make_sheet_folder(const std::filesystem::path& folder, const std::vector<std::filesystem::path>& photos);

/// The example beside sheet.json: every key, each line commented with "//".
std::string sheet_example_text();
inline constexpr const char* kSheetExampleName = "sheet.json.example";

}  // namespace sheetloupe
