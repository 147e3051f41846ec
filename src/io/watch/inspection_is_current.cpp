#include <set>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/folder_watch.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/sheet_folder.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/version.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

bool same_photos(const std::vector<fs::path>& files, const std::string& role, const Json& report) {
  for (const Json& face : report.at("faces")) {
    if (face.at("role") != role) continue;
    const Json& photos = face.at("photos");
    if (photos.size() != files.size()) return false;
    for (std::size_t i = 0; i < files.size(); ++i) {
      if (photos[i].at("file") != files[i].filename().string() ||
          photos[i].at("sha256") != sha256_hex(read_file(files[i])))
        return false;
    }
    return true;
  }
  return files.empty();
}

// The report does not keep the edge photos' hashes: their sides must agree and none may be younger than the report.
bool same_edges(const SheetFolder& folder, const Json& report, const fs::path& report_file) {
  std::set<std::string> now, then;
  for (const auto& [side, file] : folder.edges) {
    if (fs::last_write_time(file) > fs::last_write_time(report_file)) return false;
    now.insert(side);
  }
  for (const Json& edge : report.at("edges")) then.insert(edge.at("side").get<std::string>());
  return now == then;
}

}  // namespace

bool inspection_is_current(const fs::path& path) {
  const fs::path report_file = path / "loupe" / "report.json";
  if (!fs::exists(report_file) || is_unfinished(report_file.parent_path())) return false;
  try {
    const SheetFolder folder = read_sheet_folder(path);
    const Json report = read_json(report_file);
    return report.at("tool").at("version") == version_text() && report.at("sheet") == folder.facts.given &&
           same_photos(folder.front, "front", report) && same_photos(folder.back, "back", report) &&
           same_edges(folder, report, report_file);
  } catch (const InputError&) {
    return false;
  } catch (const Json::exception&) {  // a report of another make
    return false;
  } catch (const fs::filesystem_error&) {  // a file went away meanwhile
    return false;
  }
}

}  // namespace sheetloupe
