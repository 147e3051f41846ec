#include <memory>
#include <ostream>

#include "cli/commands.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/strips.h"

namespace sheetloupe::cli {
namespace {

struct StripsArguments {
  std::string paper = "a4", out;
};

}  // namespace

Run add_strips_command(CLI::App& app) {
  auto arguments = std::make_shared<StripsArguments>();
  CLI::App* command = app.add_subcommand("strips", "Write the printed strips as a PDF page");
  command->footer("Example: sheetloupe strips -o strips.pdf\nPrint at 100 %, cut out, tape flat around the sheet.");
  command->add_option("--paper", arguments->paper, "a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}))
      ->capture_default_str();
  command->add_option("-o,--out,--output", arguments->out, "PDF file to write")->required();
  return [arguments](Streams streams) {
    write_file(arguments->out, strips_pdf(arguments->paper == "letter" ? StripPaper::letter : StripPaper::a4));
    streams.out << "Written to " << arguments->out
                << ". Print it at 100 %, then measure one strip.\nNext: tape the strips around the sheet, photograph "
                   "it from above, then\n  sheetloupe new H-014 PHOTO ...\n";
    return static_cast<int>(kDone);
  };
}

}  // namespace sheetloupe::cli
