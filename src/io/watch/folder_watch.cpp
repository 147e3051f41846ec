#include "sheetloupe/io/folder_watch.h"

#include <algorithm>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/sheet_folder.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

bool is_input(const fs::path& file) { return is_photo_name(file) || file.filename() == "sheet.json"; }

// A sync program writes "front.jpg.part" or ".front.jpg.tmp"; such names are no photos. One that writes under the final
// name is caught by size, time and the decoder.
std::string snapshot(const fs::path& folder) {
  std::vector<std::string> lines;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    if (!is_input(entry.path()) || entry.path().filename().string().starts_with('.')) continue;
    std::error_code gone;
    const auto size = entry.file_size(gone);
    const auto time = entry.last_write_time(gone);
    if (!gone)
      lines.push_back(entry.path().filename().string() + "/" + std::to_string(size) + "/" +
                      std::to_string(time.time_since_epoch().count()));
  }
  std::sort(lines.begin(), lines.end());
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

// "front.jpg" or "Front.HEIC": what makes a folder a sheet's.
bool has_front(const fs::path& folder) {
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    std::string stem = entry.path().stem().string();
    std::transform(stem.begin(), stem.end(), stem.begin(), [](unsigned char c) { return std::tolower(c); });
    if (stem == "front" && is_photo_name(entry.path())) return true;
  }
  return false;
}

// Why the folder cannot be inspected yet; empty when every photo decodes.
std::string problem_of(const fs::path& folder) {
  try {
    const SheetFolder sheet = read_sheet_folder(folder);
    for (const auto* photos : {&sheet.front, &sheet.back}) {
      for (const fs::path& photo : *photos) load_photo(photo);
    }
    for (const auto& [side, photo] : sheet.edges) load_photo(photo);
  } catch (const InputError& e) {
    return e.what();
  }
  return "";
}

}  // namespace

FolderWatch::FolderWatch(fs::path directory, double settle_s) : directory_(std::move(directory)), settle_s_(settle_s) {
  std::error_code error;
  if (!fs::exists(directory_, error))
    throw InputError({"no such folder", directory_.string(), "", "the folder in which your sheet folders lie",
                      "Make it first, or check the name"});
  if (!fs::is_directory(directory_, error))
    throw InputError({"not a folder", directory_.string(), "a file", "the folder in which your sheet folders lie", ""});
}

std::vector<fs::path> FolderWatch::sheet_folders() const {
  if (has_front(directory_)) return {directory_};
  std::vector<fs::path> folders;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(directory_, error)) {
    std::error_code gone;
    if (entry.is_directory(gone) && has_front(entry.path())) folders.push_back(entry.path());
  }
  std::sort(folders.begin(), folders.end());
  return folders;
}

void FolderWatch::look_at(const fs::path& folder, double now_s, std::vector<WatchEvent>& events) {
  const std::string now = snapshot(folder);
  State& state = states_[folder];
  if (now == state.handled) return;
  if (now != state.seen) {
    state.seen = now;
    state.since_s = now_s;
  }
  if (now_s - state.since_s < settle_s_) {
    unsettled_ = true;
    return;
  }
  state.handled = now;  // ready or not, this state is told once
  if (inspection_is_current(folder)) return;
  const std::string problem = problem_of(folder);
  // A photo that came while the others were being decoded starts the wait again.
  if (snapshot(folder) != now) {
    state.handled.clear();
    unsettled_ = true;
    return;
  }
  events.push_back({folder, problem});
}

std::vector<WatchEvent> FolderWatch::look(double now_s) {
  unsettled_ = false;
  std::vector<WatchEvent> events;
  for (const fs::path& folder : sheet_folders()) look_at(folder, now_s, events);
  return events;
}

bool FolderWatch::is_one_sheet() const { return has_front(directory_); }

std::vector<std::string> FolderWatch::loose_photos() const {
  std::vector<std::string> names;
  if (is_one_sheet()) return names;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(directory_, error)) {
    if (is_photo_name(entry.path())) names.push_back(entry.path().filename().string());
  }
  std::sort(names.begin(), names.end());
  return names;
}

}  // namespace sheetloupe
