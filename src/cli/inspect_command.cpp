#include <iomanip>
#include <memory>
#include <ostream>

#include "cli/commands.h"
#include "sheetloupe/inspect.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/inspection_files.h"
#include "sheetloupe/io/rubric_json.h"
#include "sheetloupe/io/stage_times.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe::cli {
namespace {

struct InspectArguments {
  std::string folder, out, rubric = kDefaultRubric;
  bool json = false;
};

// One line a face: what was measured, how sure, or why not.
void tell(const FaceResult& face, std::ostream& out) {
  out << face.role << ": ";
  if (face.status != FaceStatus::measured) {
    out << (face.status == FaceStatus::measured_in_px ? "measured in px only. " : "not measured. ") << face.reason
        << '\n';
  } else {
    out << std::fixed << std::setprecision(1) << face.width_mm << " x " << face.height_mm << " mm +-"
        << face.side_u95_mm << ", positions +-" << std::setprecision(2) << face.scale.position_u95_mm << " mm";
    if (face.weave.found) {
      out << std::setprecision(1) << "; warp " << face.weave.warp.degrees() << ", weft " << face.weave.weft.degrees()
          << " +-" << face.weave.angle_u95_deg << " deg";
    } else {
      out << "; weave not read: " << face.weave.reason;
    }
    out << "; " << face.defects.items.size() << " defects found\n";
  }
  for (const std::string& advice : face.advice) out << "  " << advice << '\n';
}

void tell_grade(const Json& grade, std::ostream& out) {
  const std::string letter = grade["grade"];
  out << (letter == "not graded" ? "Not graded."
                                 : "Grade " + letter + " (" + grade["rubric"].get<std::string>() + ").");
  for (const Json& reason : grade["reasons"]) out << "\n  " << reason.get<std::string>();
  out << '\n';
}

int run_inspect(const InspectArguments& arguments, const Streams& streams) {
  StageTimes times;
  times.begin("reading");
  const Rubric rubric = read_rubric(arguments.rubric);
  const SheetFolder folder = read_sheet_folder(arguments.folder);
  const std::filesystem::path out =
      arguments.out.empty() ? folder.path / "loupe" : std::filesystem::path(arguments.out);
  const InspectInput input = load_inspect_input(folder);
  require_writable(out);
  for (const std::string& name : folder.without_role)
    streams.err << name << " was left out: its name tells no role (front-2, back, edge-top ...).\n";
  InspectOptions options = options_for(folder.facts, rubric);
  if (streams.terminal) options.progress = [&](const std::string& stage) { streams.err << "  " << stage << '\n'; };
  times.end();
  const Inspection inspection = inspect_sheet(input, times.watching(options));
  const Json report = write_inspection(inspection, input, folder.facts, rubric, out, &times);
  if (streams.terminal) streams.err << "  " << times_in_a_line(times.so_far()) << '\n';
  bool all = true;
  for (const FaceResult& face : inspection.faces) all = all && face.status == FaceStatus::measured;
  for (const EdgeReading& edge : inspection.edges) all = all && edge.verdict != PlyVerdict::not_measured;
  if (arguments.json) {
    streams.out << report.dump(1) << '\n';
  } else {
    for (const FaceResult& face : inspection.faces) tell(face, streams.out);
    for (const std::string& remark : inspection.remarks) streams.out << remark << '\n';
    tell_grade(report["grade"], streams.out);
    streams.out << "Page: " << (out / "report.html").string()
                << "\nNext: open the page; plan the rings with\n  sheetloupe place " << arguments.folder
                << " --orders orders.json\n";
  }
  return all ? kDone : kPartlyAnswered;
}

}  // namespace

Run add_inspect_command(CLI::App& app) {
  auto arguments = std::make_shared<InspectArguments>();
  CLI::App* command = app.add_subcommand("inspect", "Measure a sheet folder: scale, weave, defects, edges, usable map");
  command->footer(
      "Example: sheetloupe inspect H-014\nReads front.jpg, back.jpg, edge-*.jpg and sheet.json there; writes "
      "H-014/loupe/.");
  command->add_option("FOLDER", arguments->folder, "Sheet folder with front.jpg in it")->required();
  command->add_option("--out", arguments->out, "Where to write (default: FOLDER/loupe)");
  command
      ->add_option("--rubric", arguments->rubric,
                   "Limits of the grade: ring-making, visual-defects, or a file of your own")
      ->capture_default_str();
  command->add_flag("--json", arguments->json, "Print report.json on standard output and nothing else");
  return [arguments](Streams streams) { return run_inspect(*arguments, streams); };
}

}  // namespace sheetloupe::cli
