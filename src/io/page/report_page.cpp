#include "sheetloupe/io/report_page.h"

#include "io/page/assets.h"
#include "io/page/sections.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/strict_json.h"

namespace sheetloupe {

std::string report_page(const Json& report, const Json& usable, const Json& blanks, const std::string& front_jpeg) {
  const page::Model model{report, usable, blanks};
  std::string data = page::script_data(model).dump();
  // "</script>" inside a name would end the script: JSON allows the escaped slash.
  for (std::size_t i = data.find("</"); i != std::string::npos; i = data.find("</", i + 3)) data.replace(i, 2, "<\\/");
  const std::string id = report["sheet"].value("id", "");
  return "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
         "content=\"width=device-width,initial-scale=1\">\n<title>" +
         page::escaped(id) + ": sheet report</title>\n<link rel=\"icon\" href=\"data:,\">\n<style>\n" + page::kStyle +
         "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#face\">Skip to the picture</a>\n" + page::head(model) +
         "<main>\n" + page::verdict(model) + page::picture(model, front_jpeg) + page::found(model) +
         page::weave(model) + page::rings(model) + page::edges(model) + page::grade_table(report) + page::advice(model) + page::cautions() +
         "</main>\n<footer><div class=\"s\"><p>\u00b1 is always the half width of a 95 % interval. Measured with "
         "sheetloupe " +
         page::escaped(report["tool"].value("version", "")) +
         ", report schema 1.</p></div></footer>\n<script type=\"application/json\" id=\"data\">" + data +
         "</script>\n<script>\n" + page::kScript + "</script>\n</body>\n</html>\n";
}

void write_report_page(const std::filesystem::path& out) {
  const auto optional_json = [&](const char* name) {
    return std::filesystem::exists(out / name) ? read_json(out / name) : Json(nullptr);
  };
  const Json report = read_json(out / "report.json");
  const Json usable = optional_json("usable.geojson"), blanks = optional_json("blanks.json");
  const std::filesystem::path flat = out / "maps" / "front_flat.jpg";
  write_file(out / "report.html",
             report_page(report, usable, blanks, std::filesystem::exists(flat) ? read_file(flat) : ""));
}

}  // namespace sheetloupe
