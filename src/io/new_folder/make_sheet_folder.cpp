#include <nlohmann/json.hpp>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/new_folder.h"
#include "sheetloupe/markers.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

std::string lower_stem(const fs::path& file) {
  std::string stem = file.stem().string();
  for (char& c : stem) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return stem;
}

PhotoClue look_at(const fs::path& path) {
  if (fs::is_regular_file(path) && !is_photo_name(path)) {
    throw InputError({"this name is not a photo's", path.string(), path.extension().string(),
                      ".jpg .jpeg .png .tif .tiff .heic", "Name photos only"});
  }
  const Photo photo = load_photo(path);
  return {path, photo.taken, static_cast<int>(find_markers(photo.bgr).markers.size())};
}

void check_free(const fs::path& folder, const std::vector<RoleProposal>& photos) {
  if (fs::exists(folder) && !fs::is_directory(folder)) {
    throw InputError(
        {"not a folder", folder.string(), "a file", "a folder, there or still to be made", "Choose another name"});
  }
  if (!fs::exists(folder)) return;
  for (const auto& entry : fs::directory_iterator(folder)) {
    for (const RoleProposal& photo : photos) {
      if (!is_photo_name(entry.path()) || lower_stem(entry.path()) != fs::path(photo.file).stem()) continue;
      throw InputError({"the folder has a photo of this role already", entry.path().string(),
                        photo.from.string() + " for the same role", "one file a role",
                        "Choose another folder, or move the photo that is there"});
    }
  }
}

// Files made so far; removed again unless all of them came to be.
class Made {
 public:
  Made() = default;
  Made(const Made&) = delete;
  Made& operator=(const Made&) = delete;
  ~Made() {
    std::error_code ignored;
    for (const fs::path& file : files_) fs::remove(file, ignored);
    if (!folder_.empty()) fs::remove(folder_, ignored);
  }
  void folder(const fs::path& path) {
    if (!fs::exists(path)) folder_ = path;
  }
  void write(const fs::path& path, std::string_view bytes) {
    write_file(path, bytes);
    files_.push_back(path);
  }
  void keep() {
    files_.clear();
    folder_.clear();
  }

 private:
  std::vector<fs::path> files_;
  fs::path folder_;
};

std::string sheet_id(const fs::path& folder) {
  const fs::path plain = fs::weakly_canonical(folder);
  return plain.has_filename() ? plain.filename().string() : plain.parent_path().filename().string();
}

}  // namespace

NewFolder make_sheet_folder(const fs::path& folder, const std::vector<fs::path>& photos) {
  std::vector<PhotoClue> clues;
  for (const fs::path& photo : photos) clues.push_back(look_at(photo));
  NewFolder made{propose_roles(clues), fs::exists(folder / "sheet.json")};
  check_free(folder, made.photos);
  Made files;
  files.folder(folder);
  for (const RoleProposal& photo : made.photos) files.write(folder / photo.file, read_file(photo.from));
  if (!made.sheet_json_kept) {
    const nlohmann::ordered_json facts = {{"schema_version", 1}, {"id", sheet_id(folder)}};
    files.write(folder / "sheet.json",
                facts.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n");
  }
  if (!fs::exists(folder / kSheetExampleName)) files.write(folder / kSheetExampleName, sheet_example_text());
  files.keep();
  return made;
}

}  // namespace sheetloupe
