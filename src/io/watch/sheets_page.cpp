#include "sheetloupe/io/sheets_page.h"

#include <algorithm>
#include <vector>

#include "io/page/assets.h"
#include "io/page/facts.h"
#include "sheetloupe/io/atomic_file.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;
using page::at;
using page::text_of;

// A report that cannot be read is none: the next inspection writes it anew.
Json report_in(const fs::path& folder) {
  const fs::path file = folder / "loupe" / "report.json";
  std::error_code error;
  if (!fs::is_regular_file(file, error)) return nullptr;
  return Json::parse(read_file(file), nullptr, false);
}

std::string link_to(const std::string& folder) {
  constexpr char kHex[] = "0123456789ABCDEF";
  std::string url;
  for (const char c : folder) {
    const auto byte = static_cast<unsigned char>(c);
    if (std::isalnum(byte) || c == '-' || c == '_' || c == '.')
      url += c;
    else
      url += {'%', kHex[byte >> 4U], kHex[byte & 15U]};
  }
  return url + "/loupe/report.html";
}

std::string defects_of(const Json& report) {
  std::string words;
  for (const Json& face : page::list_at(report, "faces")) {
    int n = 0;
    for (const auto& [kind, count] : page::defect_counts(face)) n += count;
    if (page::in_mm(&face)) words += (words.empty() ? "" : ", ") + std::to_string(n) + " " + text_of(face, "role");
  }
  return words.empty() ? "cannot tell" : words;
}

std::string row(const fs::path& folder, const std::string& problem) {
  const std::string name = folder.filename().string();
  const Json report = report_in(folder);
  if (!problem.empty() || !report.is_object()) {
    return "<tr><th scope=\"row\">" + page::escaped(name) + "</th><td colspan=\"4\">" +
           (problem.empty() ? "Waits until its photos lie still." : "Waits: " + page::escaped(problem)) +
           "</td></tr>\n";
  }
  const Json& usable = at(report, {"usable", "fraction"});
  return "<tr><th scope=\"row\"><a href=\"" + link_to(name) + "\">" + page::escaped(name) + "</a></th><td>" +
         text_of(at(report, {"grade"}), "grade", "not graded") + "</td><td class=\"n\">" +
         (usable.is_number() ? page::number(100 * usable.get<double>(), 1) + " %" : "cannot tell") + "</td><td>" +
         defects_of(report) + "</td><td>" + page::date_words(text_of(at(report, {"sheet"}), "made", "not said")) +
         "</td></tr>\n";
}

}  // namespace

void write_sheets_page(const fs::path& directory, const std::map<std::string, std::string>& waiting) {
  std::vector<fs::path> folders;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(directory, error)) {
    const std::string name = entry.path().filename().string();
    if (waiting.contains(name) || fs::exists(entry.path() / "loupe" / "report.json", error))
      folders.push_back(entry.path());
  }
  std::sort(folders.begin(), folders.end());
  std::string rows;
  for (const fs::path& folder : folders) {
    const auto problem = waiting.find(folder.filename().string());
    rows += row(folder, problem == waiting.end() ? "" : problem->second);
  }
  write_file(
      directory / "sheets.html",
      std::string("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
                  "content=\"width=device-width,initial-scale=1\">\n<title>Sheets</title>\n<link rel=\"icon\" "
                  "href=\"data:,\">\n<style>\n") +
          page::kStyle +
          "</style>\n</head>\n<body>\n<header><div class=\"rule\" aria-hidden=\"true\"></div></header>\n<main>\n" +
          "<div class=\"verdict\"><div><h1>" + page::plural(static_cast<int>(folders.size()), "sheet", "sheets") +
          "</h1><p>Kept by <b>sheetloupe watch</b>; this page looks for news every five seconds.</p></div></div>\n" +
          (rows.empty()
               ? "<p>No sheet yet. A folder with front.jpg in it is a sheet.</p>\n"
               : "<div class=\"scroll\"><table><thead><tr><th scope=\"col\">Sheet</th><th scope=\"col\">Grade</th>"
                 "<th scope=\"col\" class=\"n\">Usable</th><th scope=\"col\">Defects</th><th "
                 "scope=\"col\">Made</th></tr></thead><tbody>\n" +
                     rows + "</tbody></table></div>\n") +
          "</main>\n<script>setTimeout(function(){location.reload()},5000)</script>\n</body>\n</html>\n");
}

}  // namespace sheetloupe
