#include <atomic>
#include <csignal>
#include <memory>
#include <ostream>
#include <stdexcept>

#include "cli/commands.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/grade_json.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/orders_json.h"
#include "sheetloupe/io/plan_files.h"
#include "sheetloupe/io/report_page.h"
#include "sheetloupe/io/strict_json.h"
#include "sheetloupe/io/usable_json.h"
#include "sheetloupe/markers.h"
#include "sheetloupe/placement.h"
#include "sheetloupe/plan_check.h"

namespace sheetloupe::cli {
namespace {

namespace fs = std::filesystem;

struct PlaceArguments {
  std::string target, orders, taken, out, face = "front", paper = "a4";
  std::vector<std::string> pins, avoid;
  double effort = 1.0;
  double strip_length_mm = 250.0;
  bool json = false;
};

// Ctrl-C ends the search, not the program: the best plan so far is written. A second one ends the program.
std::atomic<bool> interrupted{false};
static_assert(std::atomic<bool>::is_always_lock_free);

class Interruptible {
 public:
  Interruptible() {
    interrupted = false;
    before_ = std::signal(SIGINT, [](int) {
      interrupted = true;
      std::signal(SIGINT, SIG_DFL);
    });
  }
  Interruptible(const Interruptible&) = delete;
  Interruptible& operator=(const Interruptible&) = delete;
  ~Interruptible() { std::signal(SIGINT, before_); }

 private:
  void (*before_)(int);
};

Plan searched(const UsableMap& map, const Orders& orders, PlacementOptions options, const Streams& streams) {
  const Interruptible guard;
  int shown = -1;
  options.progress = [&](int placed, double share) {
    const int percent = static_cast<int>(100 * share);
    if (streams.terminal && percent != shown) {
      streams.err << "\r" << placed << " blanks, " << percent << " % of the search; Ctrl-C keeps what is found "
                  << std::flush;
      shown = percent;
    }
    return !interrupted.load();
  };
  Plan plan = place_blanks(map, orders, options);
  if (shown >= 0) streams.err << "\r\033[K";
  const auto broken = check_plan(map, orders, options, plan);
  if (!broken.empty()) throw std::logic_error("the plan failed its own check: " + broken.front());
  return plan;
}

// "12.5,40" or "12.5,40,6" to numbers.
std::vector<double> numbers(const std::string& text, std::size_t count, const std::string& option,
                            const std::string& expected) {
  std::vector<double> list;
  std::size_t at = 0;
  while (at <= text.size()) {
    const std::size_t comma = std::min(text.find(',', at), text.size());
    const std::string part = text.substr(at, comma - at);
    char* end = nullptr;
    const double value = std::strtod(part.c_str(), &end);
    if (part.empty() || *end != '\0' || !(std::abs(value) < 1e5)) break;
    list.push_back(value);
    at = comma + 1;
  }
  if (list.size() != count) throw InputError({"wrong value", option, text, expected, ""});
  return list;
}

PlacementOptions options_of(const PlaceArguments& a) {
  PlacementOptions options;
  for (const std::string& pin : a.pins) {
    const auto n = numbers(pin, 2, "--pin", "X,Y in mm, for example 31.5,40");
    options.pins.push_back({n[0], n[1]});
  }
  for (const std::string& circle : a.avoid) {
    const auto n = numbers(circle, 3, "--avoid", "X,Y,R in mm, for example 120,90,15");
    if (n[2] < 0) throw InputError({"a radius below 0", "--avoid", circle, "X,Y,R with R in mm, 0 or more", ""});
    options.avoid.push_back({{n[0], n[1]}, Mm(n[2])});
  }
  if (!a.taken.empty()) {
    options.taken = read_taken(a.taken);
    // The new blanks' numbers go on where the old ones end.
    options.first_number = static_cast<int>(options.taken.size()) + 1;
  }
  options.evaluations = static_cast<std::uint64_t>(a.effort * static_cast<double>(kDefaultEvaluations));
  options.threads = 2;
  return options;
}

// All at once or nothing: no new template may lie beside an earlier list of blanks.
void write_plan(const UsableMap& map, const Plan& plan, const TemplateOptions& sheet, const Json& blanks,
                const fs::path& inspected, const fs::path& out) {
  std::vector<FileDraft> files = plan_drawings(map, plan, sheet, inspected, out);
  files.push_back({out / "blanks.csv", plan_to_csv(plan)});
  files.push_back({out / "blanks.json", blanks.dump(1) + "\n"});
  const bool inspection = fs::exists(out / "report.json");
  if (inspection) {
    Json report = read_json(out / "report.json");
    put_grade(report, blanks, rubric_of_report(report));
    files.push_back({out / "report.json", report.dump(1) + "\n"});
  }
  write_files(files, [&] {
    if (inspection) write_report_page(out);
  });
}

int run_place(const PlaceArguments& a, const Streams& streams) {
  const bool folder = fs::is_directory(a.target);
  const fs::path map_file = folder ? fs::path(a.target) / "loupe" / "usable.geojson" : fs::path(a.target);
  if (folder && !fs::exists(map_file)) {
    throw InputError({"the sheet has no usable map yet", a.target, "", "loupe/usable.geojson in it",
                      "Run first: sheetloupe inspect " + a.target});
  }
  require_finished(map_file.parent_path());
  const UsableMap map = read_usable_map(map_file);
  const Orders orders = read_orders(a.orders);
  const fs::path out = a.out.empty() ? map_file.parent_path() : fs::path(a.out);
  require_writable(out.empty() ? fs::path(".") : out);
  const Plan plan = searched(map, orders, options_of(a), streams);
  TemplateOptions sheet;
  sheet.letter = a.paper == "letter";
  sheet.back = a.face == "back";
  if (!a.taken.empty()) sheet.taken = read_taken(a.taken);
  sheet.print_scale = a.strip_length_mm / kStripLengthMm;
  Json blanks = plan_to_json(plan);
  blanks["size_remarks"] = size_remarks(orders);
  blanks["yield"] = yield_to_json(plan, orders, map);
  write_plan(map, plan, sheet, blanks, map_file.parent_path(), out);
  if (a.json) {
    streams.out << blanks.dump(1) << '\n';
  } else {
    streams.out << plan.blanks.size() << " blanks placed; a flawless sheet would hold " << plan.bound_flawless
                << " of the smallest saw, no plan more than " << plan.bound_proven << ".\n";
    for (const Unplaced& u : plan.unplaced)
      streams.out << u.count << " of " << u.ring << " not placed: " << u.reason << ".\n";
    for (const std::string& remark : size_remarks(orders)) streams.out << "Note: " << remark << ".\n";
    streams.out << "Template, list and plan are in " << out.string()
                << ". Print the template at 100 % and check both rules.\n";
    if (folder)
      streams.out << "Next: drill by the template; keep the sheet with\n  sheetloupe log add " << a.target << '\n';
  }
  return plan.unplaced.empty() ? kDone : kPartlyAnswered;
}

}  // namespace

Run add_place_command(CLI::App& app) {
  auto a = std::make_shared<PlaceArguments>();
  CLI::App* command = app.add_subcommand("place", "Plan ring blanks on an inspected sheet, or on any usable map");
  command->footer(
      "Example: sheetloupe place H-014 --orders orders.json\nWrites blanks.json, blanks.csv and the 1:1 drilling "
      "template beside the map.");
  command->add_option("TARGET", a->target, "Sheet folder, or a usable map (.geojson)")->required();
  command->add_option("--orders", a->orders, "Rings wanted and saws at hand (JSON)")->required();
  command->add_option("--taken", a->taken, "blanks.json of what was already cut from this sheet");
  command->add_option("--pin", a->pins, "Keep a blank at X,Y (mm); may be repeated");
  command->add_option("--avoid", a->avoid, "Bar a place X,Y,R (mm); may be repeated");
  command->add_option("--face", a->face, "Face the template lies on: front or back (mirrored)")
      ->check(CLI::IsMember({"front", "back"}))
      ->capture_default_str();
  command->add_option("--paper", a->paper, "a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}))
      ->capture_default_str();
  command
      ->add_option(
          "--strip-length", a->strip_length_mm,
          "Measured length of a strip printed by the template's printer, mm: 250 is a true print; the template "
          "is scaled by it")
      ->check(CLI::Range(237.5, 262.5))
      ->capture_default_str();
  command->add_option("--effort", a->effort, "How much longer to search than by default, 0.01 to 1000")
      ->check(CLI::Range(0.01, 1000.0))
      ->capture_default_str();
  command->add_option("--out", a->out, "Where to write (default: beside the map)");
  command->add_flag("--json", a->json, "Print blanks.json on standard output and nothing else");
  return [a](Streams streams) { return run_place(*a, streams); };
}

}  // namespace sheetloupe::cli
