#include "sheetloupe/io/plan_files.h"

#include "io/page/html.h"
#include "io/photo/jpeg.h"
#include "io/png.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;

// The report tells where the flat picture lies on the sheet. A hand-written map has no report: no picture then.
std::optional<FlatPicture> flat_front(const fs::path& inspected) {
  const fs::path report_file = inspected / "report.json";
  if (!fs::exists(report_file)) return {};
  const Json report = Json::parse(read_file(report_file), nullptr, false);
  const Json* front = report.is_object() ? page::face_of(report, "front") : nullptr;
  if (!front || !front->contains("flat_picture")) return {};
  const Json& flat = (*front)["flat_picture"];
  const fs::path file = inspected / flat.value("file", "");
  if (!fs::is_regular_file(file)) return {};
  const std::string bytes = read_file(file);
  FlatPicture picture;
  picture.bgr = decode_jpeg(bytes);
  picture.mm_per_px = flat.at("mm_per_px").get<double>();
  picture.origin = {flat.at("origin_mm").at(0).get<double>(), flat.at("origin_mm").at(1).get<double>()};
  if (picture.bgr.empty() || !(picture.mm_per_px > 0)) return {};
  return picture;
}

}  // namespace

std::vector<FileDraft> plan_drawings(const UsableMap& map, const Plan& plan, const TemplateOptions& options,
                                     const fs::path& inspected, const fs::path& out) {
  std::vector<FileDraft> files{
      {out / "drill-template.pdf", {}}, {out / "drill-template.svg", {}}, {out / "placement.png", {}}};
  side_by_side(2, [&](std::size_t i) {
    if (i == 0) {
      files[2].bytes = png_bytes(draw_placement(map, plan, flat_front(inspected)));
    } else {
      files[0].bytes = template_pdf(map, plan, options);
      files[1].bytes = template_svg(map, plan, options);
    }
  });
  return files;
}

}  // namespace sheetloupe
