#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/commands.h"
#include "sheetloupe/io/new_folder.h"

namespace sheetloupe::cli {
namespace {

struct NewArguments {
  std::string folder;
  std::vector<std::filesystem::path> photos;
  bool json = false;
};

void tell(const NewArguments& arguments, const NewFolder& made, std::ostream& out) {
  bool guessed = false;
  for (const RoleProposal& photo : made.photos) {
    out << photo.file << "  from " << photo.from.string() << ": " << (photo.guessed ? "guessed, " : "") << photo.why
        << '\n';
    guessed = guessed || photo.guessed;
  }
  if (guessed) out << "Look at the guessed ones, and rename the copies in " << arguments.folder << " where wrong.\n";
  if (made.photos.empty()) out << "Photos go in there as front.jpg, back.jpg, edge-top.jpg and so on.\n";
  out << (made.sheet_json_kept ? "The sheet.json there was kept; every" : "Put what you know into sheet.json; every")
      << " key is explained in " << kSheetExampleName << ".\n"
      << "Then: sheetloupe inspect " << arguments.folder << '\n';
}

nlohmann::ordered_json as_json(const NewArguments& arguments, const NewFolder& made) {
  nlohmann::ordered_json photos = nlohmann::ordered_json::array();
  for (const RoleProposal& photo : made.photos) {
    photos.push_back(
        {{"from", photo.from.string()}, {"file", photo.file}, {"guessed", photo.guessed}, {"why", photo.why}});
  }
  return {{"schema_version", 1},
          {"folder", arguments.folder},
          {"photos", photos},
          {"sheet_json_kept", made.sheet_json_kept}};
}

}  // namespace

Run add_new_command(CLI::App& app) {
  auto arguments = std::make_shared<NewArguments>();
  CLI::App* command = app.add_subcommand("new", "Lay a sheet folder from a phone's photos");
  command->footer(
      "Example: sheetloupe new H-014 IMG_0412.HEIC IMG_0413.HEIC\nCopies the photos, never alters them. Roles come "
      "from "
      "names (front, back, edge-top ...), else from\nthe strips seen and the order in which the photos were taken.");
  command->add_option("FOLDER", arguments->folder, "Sheet folder to make or to add to; its name is the sheet's id")
      ->required();
  command->add_option("PHOTO", arguments->photos, "JPEG, PNG, TIFF or HEIC files");
  command->add_flag("--json", arguments->json, "Print the roles as JSON on standard output and nothing else");
  return [arguments](Streams streams) {
    const NewFolder made = make_sheet_folder(arguments->folder, arguments->photos);
    if (arguments->json) {
      streams.out << as_json(*arguments, made).dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace)
                  << '\n';
    } else {
      tell(*arguments, made, streams.out);
    }
    return static_cast<int>(kDone);
  };
}

}  // namespace sheetloupe::cli
