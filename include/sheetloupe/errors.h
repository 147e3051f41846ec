// Input that the user can mend. Thrown anywhere, caught only by the program's outermost function.
#pragma once

#include <stdexcept>
#include <string>

namespace sheetloupe {

/// One clear message: what is wrong, where, what was found, what was expected, what to do.
struct InputProblem {
  std::string what;      // "unknown key"
  std::string where;     // "H-014/sheet.json: thicknes_mm"
  std::string found;     // "" when there is nothing to quote
  std::string expected;  // "thickness_mm"
  std::string remedy;    // "rename the key or remove it"
};

class InputError : public std::runtime_error {
 public:
  explicit InputError(InputProblem problem) : std::runtime_error(to_message(problem)), problem_(std::move(problem)) {}
  const InputProblem& problem() const { return problem_; }

 private:
  static std::string to_message(const InputProblem& p) {
    std::string text = p.where.empty() ? p.what : p.where + ": " + p.what;
    if (!p.found.empty()) text += "; found " + p.found;
    if (!p.expected.empty()) text += "; expected " + p.expected;
    if (!p.remedy.empty()) text += ". " + p.remedy;
    if (text.back() != '.') text += '.';
    return text;
  }
  InputProblem problem_;
};

}  // namespace sheetloupe
