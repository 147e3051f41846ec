// sheets.html: the sheets of a watched folder, one line each, with grade and a link to each report. It looks for a
// newer self every few seconds while it is open.
#pragma once

#include <filesystem>
#include <map>
#include <string>

namespace sheetloupe {

/// `waiting`: by folder name, why a sheet could not be inspected yet. Sheets without a report and without a reason are
/// told as waiting for their photos to lie still. Throws InputError when the page cannot be written.
void write_sheets_page(const std::filesystem::path& directory, const std::map<std::string, std::string>& waiting);

}  // namespace sheetloupe
