#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <sstream>

#include "cli/program.h"
#include "cli/support/command_tree.h"
#include "sheetloupe/io/atomic_file.h"
#include "support/temp_dir.h"

namespace sheetloupe::cli {
namespace {

std::string output(const std::vector<std::string>& words) {
  std::ostringstream out, err;
  EXPECT_EQ(run_program(words, {out, err}), kDone) << err.str();
  return out.str();
}

// What a program prints, both streams.
std::string shell(const std::string& command, int* status = nullptr) {
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  std::string text;
  std::array<char, 512> buffer{};
  while (const std::size_t n = fread(buffer.data(), 1, buffer.size(), pipe)) text.append(buffer.data(), n);
  const int code = pclose(pipe);
  if (status) *status = code;
  return text;
}

bool installed(const std::string& program) { return !shell("command -v " + program).empty(); }

// What bash would offer for the words, the last one being typed.
std::string offered(const std::string& words) {
  const TempDir dir;
  write_file(dir / "sheetloupe.bash", output({"completion", "bash"}));
  write_file(dir / "ask.bash", "source " + (dir / "sheetloupe.bash").string() + "\nCOMP_WORDS=(" + words +
                                   ")\nCOMP_CWORD=$((${#COMP_WORDS[@]} - 1))\n_sheetloupe\necho \"${COMPREPLY[*]}\"\n");
  return shell("bash " + (dir / "ask.bash").string());
}

TEST(Welcome, WithoutACommandTheWayIsShownInOrder) {
  const std::string text = output({});
  std::size_t before = 0;
  for (const char* step : {"demo", "strips", "new", "inspect", "place", "log add"}) {
    const std::size_t at = text.find(std::string("sheetloupe ") + step);
    ASSERT_NE(at, std::string::npos) << step;
    EXPECT_GT(at, before) << step;
    before = at;
  }
}

TEST(Choices, AreReadFromTheTypeName) {
  EXPECT_TRUE(choices_of("").empty());
  EXPECT_TRUE(choices_of("TEXT").empty());
  EXPECT_TRUE(choices_of("TEXT:{").empty());
  EXPECT_THAT(choices_of("TEXT:{front,back}"), testing::ElementsAre("front", "back"));
}

TEST(Completion, UnknownShellIsBadInput) {
  std::ostringstream out, err;
  EXPECT_EQ(run_program({"completion", "csh"}, {out, err}), kBadInput);
}

TEST(Completion, BashOffersCommandsOptionsAndChoices) {
  EXPECT_THAT(offered("sheetloupe ''"), testing::HasSubstr("inspect"));
  EXPECT_EQ(offered("sheetloupe insp"), "inspect\n");
  EXPECT_THAT(offered("sheetloupe place --"), testing::HasSubstr("--orders"));
  EXPECT_THAT(offered("sheetloupe place --"), testing::Not(testing::HasSubstr("--rubric")));
  EXPECT_EQ(offered("sheetloupe place --face b"), "back\n");
  EXPECT_THAT(offered("sheetloupe log ''"), testing::HasSubstr("outcome"));
}

TEST(Completion, BashOffersFilesWhereNoCommandIsDue) {
  EXPECT_THAT(offered("sheetloupe inspect /et"), testing::HasSubstr("/etc"));
}

TEST(Completion, HiddenCommandsAreNotOffered) {
  EXPECT_THAT(offered("sheetloupe ''"), testing::Not(testing::HasSubstr("completion")));
  EXPECT_THAT(output({"--help"}), testing::Not(testing::HasSubstr("Print the manual page")));
}

TEST(Completion, ZshAndFishParseTheirScripts) {
  const TempDir dir;
  int checked = 0;
  for (const std::string name : {"zsh", "fish"}) {
    write_file(dir / name, output({"completion", name}));
    if (!installed(name)) continue;
    int status = -1;
    EXPECT_EQ(shell(name + " -n " + (dir / name).string(), &status), "");
    EXPECT_EQ(status, 0) << name;
    ++checked;
  }
  if (checked == 0) GTEST_SKIP() << "neither zsh nor fish is installed";
}

TEST(ManPage, NamesEveryOptionOfACommandAsHelpDoes) {
  const std::string page = output({"man"});
  for (const char* command : {"strips", "new", "inspect", "place", "watch", "demo"}) {
    const std::size_t start = page.find(std::string(".SS \"sheetloupe ") + command);
    ASSERT_NE(start, std::string::npos) << command;
    const std::string part = page.substr(start, page.find(".SS", start + 3) - start);
    std::istringstream help(output({command, "--help"}));
    for (std::string line; std::getline(help, line);) {
      const std::size_t at = line.find("  --");
      if (at == std::string::npos) continue;
      std::string name = line.substr(at + 2, line.find_first_of(" ,", at + 2) - at - 2), escaped;
      for (const char c : name) escaped += c == '-' ? std::string("\\-") : std::string(1, c);
      EXPECT_NE(part.find(escaped), std::string::npos) << command << " " << name;
    }
  }
  EXPECT_NE(page.find(".SH EXIT STATUS"), std::string::npos);
}

TEST(ManPage, GroffFormatsItWithoutAWarning) {
  if (!installed("groff")) GTEST_SKIP() << "groff is not installed";
  const TempDir dir;
  write_file(dir / "sheetloupe.1", output({"man"}));
  EXPECT_EQ(shell("groff -man -ww -z " + (dir / "sheetloupe.1").string()), "");
}

}  // namespace
}  // namespace sheetloupe::cli
