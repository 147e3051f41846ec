// report.html: one self-contained page, made from report.json, usable.geojson and blanks.json only, so that page and
// files cannot disagree.
#pragma once

#include <filesystem>
#include <map>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "sheetloupe/io/atomic_file.h"

namespace sheetloupe {

namespace page {
struct Picture;
}

/// Reads the files that `inspect` (and perhaps `place`) left in `out` and writes report.html there.
void write_report_page(const std::filesystem::path& out);

/// The same page of an inspection that is about to be written into `out`, where an earlier ring plan may lie. `times`:
/// times.json; `usable`: the text of usable.geojson, empty without a map.
FileDraft report_page_file(const std::filesystem::path& out, nlohmann::ordered_json report,
                           const nlohmann::ordered_json& times, const std::string& usable,
                           const std::map<std::string, page::Picture>& pictures);

/// `usable` and `blanks` may be null values; `pictures`: the photos laid flat and the edges, any may be missing.
std::string report_page(const nlohmann::ordered_json& report, const nlohmann::ordered_json& usable,
                        const nlohmann::ordered_json& blanks, const std::map<std::string, page::Picture>& pictures);

}  // namespace sheetloupe
