#include "sheetloupe/io/models.h"

#include <gtest/gtest.h>

namespace sheetloupe {
namespace {

TEST(Models, EveryFileOfTheProgramIsFoundFromTheBuildTree) {
  for (const char* name : {"saws.json", "fabrics.json", "pinholes.onnx", "rubrics"})
    EXPECT_TRUE(std::filesystem::exists(model_path(name))) << name;
}

TEST(Models, MissingOneGivesAPathThatIsNotThere) { EXPECT_FALSE(std::filesystem::exists(model_path("nothing.json"))); }

}  // namespace
}  // namespace sheetloupe
