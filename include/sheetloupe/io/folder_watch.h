// Which sheet folders are to be inspected (again): new or changed, and whole.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace sheetloupe {

struct WatchEvent {
  std::filesystem::path folder;
  std::string problem;  // why it waits; empty: ready to be inspected now
};

/// Looks at a folder of sheet folders, or at one sheet folder, again and again. A folder is ready when no photo and no
/// sheet.json in it changed between two looks at least `settle_s` apart, and every photo decodes to its end. A photo
/// that stays half-written is told once and waited for.
class FolderWatch {
 public:
  /// Throws InputError when `directory` is missing or no folder.
  explicit FolderWatch(std::filesystem::path directory, double settle_s = 2.0);

  /// One look. `now_s`: any clock that only goes forward, seconds. A folder is given as ready once for each state.
  std::vector<WatchEvent> look(double now_s);

  /// True while a folder is still changing, so that another look is needed.
  bool unsettled() const { return unsettled_; }

  /// True when the watched folder has a front photo itself.
  bool is_one_sheet() const;

  /// Photos that lie in the watched folder itself, outside any sheet folder.
  std::vector<std::string> loose_photos() const;

 private:
  struct State {
    std::string seen, handled;  // names, sizes and times of the inputs
    double since_s = 0.0;       // when `seen` was first seen
  };

  std::vector<std::filesystem::path> sheet_folders() const;
  void look_at(const std::filesystem::path& folder, double now_s, std::vector<WatchEvent>& events);

  std::filesystem::path directory_;
  double settle_s_;
  bool unsettled_ = false;
  std::map<std::filesystem::path, State> states_;
};

/// True when `folder`/loupe/report.json was made from exactly these photos and this sheet.json. False when anything
/// differs or cannot be read.
bool inspection_is_current(const std::filesystem::path& folder);

}  // namespace sheetloupe
