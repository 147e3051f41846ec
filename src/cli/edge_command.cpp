#include <fstream>
#include <iomanip>
#include <iterator>
#include <memory>
#include <ostream>

#include "cli/commands.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/edge_picture.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/inspection_files.h"
#include "sheetloupe/io/report_json.h"

namespace sheetloupe::cli {
namespace {

// Read as sheet.json's are (contract, section 2): a caliper to 0.1 mm, a rule to 0.3 mm.
constexpr double kBarU95Mm = 0.1, kRuleU95Mm = 0.3;

struct EdgeArguments {
  std::string photo, overlay;
  double thickness_mm = 0.0, strip_bar_mm = 0.0, strip_length_mm = 0.0;
  int laid = 0;
  bool json = false;
};

void tell(const EdgeReading& edge, std::ostream& out) {
  switch (edge.verdict) {
    case PlyVerdict::sure:
      out << *edge.plies << " plies, sure.";
      break;
    case PlyVerdict::between:
      out << (*edge.plies_range)[0] << " or " << (*edge.plies_range)[1] << " plies.";
      break;
    case PlyVerdict::cannot_tell:
      out << "The plies cannot be counted.";
      break;
    case PlyVerdict::not_measured:
      out << "Not measured.";
  }
  out << (edge.reason.empty() ? "" : " ") << edge.reason << '\n';
  if (edge.mm_per_px) {
    out << std::fixed << std::setprecision(2) << "Thickness along the edge: " << edge.thickness_min_mm << " to "
        << edge.thickness_max_mm << " mm +-" << edge.thickness_u95_mm << ", " << std::showpos << edge.taper_mm
        << std::noshowpos << " mm from left to right, by "
        << (edge.scale_source == EdgeScaleSource::strip ? "the strip beside it" : "the caliper") << ".\n";
  } else if (edge.band_px > 0) {
    out << "No scale: give --thickness, or lay a printed strip flush with the cut and photograph both.\n";
  }
  if (!edge.scale_remark.empty()) out << edge.scale_remark << '\n';
  for (const EdgeMark& mark : edge.marks) {
    out << std::fixed << std::setprecision(1) << "Look at " << mark.from_mm << " to " << mark.to_mm
        << (edge.mm_per_px ? " mm" : " px") << " from the left: it may be a " << mark.kind << ".\n";
  }
  out << laid_words(edge);
}

int run_edge(const EdgeArguments& arguments, const Streams& streams) {
  const Photo photo = load_photo(arguments.photo);
  EdgeOptions options;
  if (arguments.thickness_mm > 0) options.thickness_mm = arguments.thickness_mm;
  if (arguments.laid > 0) options.plies_laid = arguments.laid;
  LengthStandards standards;
  if (arguments.strip_bar_mm > 0) standards.strip_bar_mm = Measured{arguments.strip_bar_mm, kBarU95Mm};
  if (arguments.strip_length_mm > 0) standards.strip_length_mm = Measured{arguments.strip_length_mm, kRuleU95Mm};
  options.markers = find_markers(photo.bgr, {.close_up = true}).markers;
  options.print = print_scale(standards);
  options.weights = ply_weights();
  const EdgeReading edge = read_edge(photo.bgr, options);
  if (!arguments.overlay.empty()) write_edge_picture(arguments.overlay, photo, edge);
  if (arguments.json) {
    streams.out << edge_to_json(edge).dump(1) << '\n';
  } else {
    tell(edge, streams.out);
  }
  return edge.verdict == PlyVerdict::sure || edge.verdict == PlyVerdict::between ? kDone : kPartlyAnswered;
}

}  // namespace

Run add_edge_command(CLI::App& app) {
  auto arguments = std::make_shared<EdgeArguments>();
  CLI::App* command = app.add_subcommand("edge", "Read one photo of a cut edge: plies, thickness, places to look at");
  command->footer(
      "Example: sheetloupe edge edge-top.jpg --thickness 6.1 --laid 12\n"
      "Hold the front face up, let only the cut show, put a plain white card behind, and fill half of the picture's "
      "height. The laid count is compared afterwards and never steers the reading. Without a caliper, lay a printed "
      "strip flush with the cut, some 5 mm beside it: it gives the scale; with both they are compared.");
  command->add_option("PHOTO", arguments->photo, "Photo of the cut edge")->required();
  command->add_option("--thickness", arguments->thickness_mm, "Thickness by caliper over the same stretch, mm")
      ->check(CLI::Range(0.2, 60.0));
  command->add_option("--laid", arguments->laid, "Plies that were laid, to compare with")->check(CLI::Range(1, 200));
  command->add_option("--strip-bar", arguments->strip_bar_mm, "The strip's 140 mm bar by caliper, mm")
      ->check(CLI::Range(130.0, 150.0));
  command->add_option("--strip-length", arguments->strip_length_mm, "The strip's 250 mm between end lines by rule, mm")
      ->check(CLI::Range(235.0, 265.0));
  command->add_option("--overlay", arguments->overlay, "Write the photo with what was found drawn on it (PNG)");
  command->add_flag("--json", arguments->json, "Print the reading as JSON on standard output and nothing else");
  return [arguments](Streams streams) { return run_edge(*arguments, streams); };
}

}  // namespace sheetloupe::cli
