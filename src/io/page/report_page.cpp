#include "sheetloupe/io/report_page.h"

#include "io/page/assets.h"
#include "io/page/embedded_pictures.h"
#include "io/page/sections.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/images.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {
namespace {

// JSON inside a script element: "</" would end it, "<!--" would open a comment; both may stand in a name.
std::string safe_in_script(std::string json) {
  for (std::size_t i = json.find('<'); i != std::string::npos; i = json.find('<', i + 6)) json.replace(i, 1, "\\u003c");
  return json;
}

std::string files_measured(const Json& report) {
  std::string words;
  for (const Json& face : page::list_at(report, "faces")) {
    for (const Json& photo : page::list_at(face, "photos"))
      words += (words.empty() ? "" : ", ") + page::text_of(photo, "file");
  }
  return words.empty() ? "" : "Measured from " + words + ". ";
}

std::string footer(const Json& report) {
  return "<footer><div class=\"s\"><p>\u00b1 is always the half width of a 95 % interval. " + files_measured(report) +
         "sheetloupe " + page::text_of(page::at(report, {"tool"}), "version", "of unknown version") +
         ", report schema 1.</p>" + page::where_the_time_went(page::at(report, {"times"})) + "</div></footer>\n";
}

Json optional_json(const std::filesystem::path& file) {
  return std::filesystem::exists(file) ? read_json(file) : Json(nullptr);
}

}  // namespace

std::string report_page(const Json& report, const Json& usable, const Json& blanks,
                        const std::map<std::string, page::Picture>& pictures) {
  const page::Model model{report, usable, blanks, pictures};
  const std::string id = page::text_of(page::at(report, {"sheet"}), "id", "Sheet");
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
         "content=\"width=device-width,initial-scale=1\">\n<meta http-equiv=\"Content-Security-Policy\" "
         "content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src "
         "data:\">\n<title>" +
         id + ": sheet report</title>\n<link rel=\"icon\" href=\"data:,\">\n<style>\n" + page::kStyle +
         "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#face\">Skip to the picture</a>\n" + page::head(model) +
         "<main>\n" + page::verdict(model) + page::picture(model) + page::grade_table(report) + page::found(model) +
         page::rings(model) + page::weave(model) + page::edges(model) + page::laminate(model) + page::limits(model) +
         page::shooting(model) + page::cautions() + "</main>\n" + footer(report) +
         "<script type=\"application/json\" id=\"data\">" + safe_in_script(page::script_data(model).dump()) +
         "</script>\n<script>\n" + page::kScript + "</script>\n</body>\n</html>\n";
}

FileDraft report_page_file(const std::filesystem::path& out, Json report, const Json& times, const std::string& usable,
                           const std::map<std::string, page::Picture>& pictures) {
  report["times"] = times;
  Json blanks = optional_json(out / "blanks.json");
  // A sheet inspected anew has another map; rings planned on the old one may lie on what was found since.
  const Json& made_for = page::at(blanks, {"map_sha256"});
  if (made_for.is_string() && !usable.empty() && made_for != sha256_hex(usable)) {
    blanks = nullptr;
    report["remarks"].push_back(
        "A ring plan lies here that was made for an earlier map: it is not shown. Run place again before you drill.");
  }
  try {
    const Json map = usable.empty() ? Json(nullptr) : parse_json(usable, (out / "usable.geojson").string());
    return {out / "report.html", report_page(report, map, blanks, pictures)};
  } catch (const Json::exception& e) {
    throw InputError({"a file there is not as the program writes it", out.string(), e.what(),
                      "report.json, usable.geojson and blanks.json of one inspection", "Inspect the sheet again"});
  }
}

void write_report_page(const std::filesystem::path& out) {
  const std::filesystem::path map = out / "usable.geojson";
  const FileDraft page =
      report_page_file(out, read_json(out / "report.json"), optional_json(out / "times.json"),
                       std::filesystem::exists(map) ? read_file(map) : "", page::embedded_pictures(out));
  write_file(page.path, page.bytes);
}

}  // namespace sheetloupe
