// The files that come with the program: saw kit, cloths, rubrics, trained decisions.
#pragma once

#include <filesystem>
#include <string>

namespace sheetloupe {

/// Where `name` ("saws.json", "rubrics") lies: in share/sheetloupe/models beside the bin folder of an installed
/// program, else in the models folder that the program was built from. The path is given whether or not the file is
/// there.
std::filesystem::path model_path(const std::string& name);

}  // namespace sheetloupe
