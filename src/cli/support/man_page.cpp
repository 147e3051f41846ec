#include "cli/support/man_page.h"

namespace sheetloupe::cli {
namespace {

// A line that starts with a dot or an apostrophe would be read as a request; hyphens of options stay hyphens.
std::string roff(const std::string& text) {
  std::string out;
  bool line_start = true;
  for (const char c : text) {
    if (line_start && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\')
      out += "\\e";
    else if (c == '-')
      out += "\\-";
    else
      out += c;
    line_start = c == '\n';
  }
  return out;
}

std::string names_of(const OptionText& option) {
  std::string text;
  for (const std::string& name : option.names) text += (text.empty() ? "" : ", ") + ("\\fB" + roff(name) + "\\fR");
  if (!option.takes_value) return text;
  std::string value = "VALUE";
  if (!option.choices.empty()) {
    value.clear();
    for (const std::string& choice : option.choices) value += (value.empty() ? "" : "|") + choice;
  }
  return text + " \\fI" + roff(value) + "\\fR";
}

std::string options_of(const CommandText& command) {
  std::string text;
  for (const OptionText& positional : command.positionals)
    text += ".TP\n\\fI" + roff(positional.names.front()) + "\\fR\n" + roff(positional.help) + "\n";
  for (const OptionText& option : command.options) {
    text += ".TP\n" + names_of(option) + "\n" + roff(option.help);
    if (!option.default_text.empty()) text += " (default: " + roff(option.default_text) + ")";
    text += "\n";
  }
  return text;
}

// Footers are laid out by hand: they keep their lines.
std::string footer_of(const CommandText& command) {
  return command.footer.empty() ? "" : ".PP\n.nf\n" + roff(command.footer) + "\n.fi\n";
}

std::string section_of(const CommandText& command) {
  std::string name = "sheetloupe";
  for (const std::string& word : command.path) name += " " + word;
  std::string text = ".SS \"" + roff(name);
  for (const OptionText& positional : command.positionals) text += " " + roff(positional.names.front());
  text += "\"\n" + roff(command.help) + "\n" + options_of(command) + footer_of(command);
  for (const CommandText& below : command.commands) text += section_of(below);
  return text;
}

}  // namespace

std::string man_page(const CommandText& program, const std::string& version) {
  std::string text =
      ".TH SHEETLOUPE 1 \"\" \"sheetloupe " + roff(version) + "\" \"User commands\"\n.SH NAME\nsheetloupe \\- " +
      "inspect carbon\\-fibre sheets from phone photos and plan rings on them\n.SH SYNOPSIS\n\\fBsheetloupe\\fR "
      "\\fICOMMAND\\fR [\\fIOPTIONS\\fR]\n.SH DESCRIPTION\n" +
      roff(program.help) + "\n.SH OPTIONS\n" + options_of(program) + ".SH COMMANDS\n";
  for (const CommandText& command : program.commands) text += section_of(command);
  return text +
         ".SH EXIT STATUS\n.TP\n0\nDone.\n.TP\n1\nMeasured, but something asked for could not be answered; the output "
         "says "
         "which and what to do.\n.TP\n2\nThe command or an input file is wrong.\n.TP\n3\nA bug; please report it.\n"
         ".SH CAUTIONS\nCarbon dust harms lungs and skin and conducts electricity: cut wet, wear a fitted respirator, "
         "eye "
         "protection and nitrile gloves. Clamp the sheet. The program advises and certifies nothing.\n";
}

}  // namespace sheetloupe::cli
