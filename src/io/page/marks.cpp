#include "io/page/marks.h"

namespace sheetloupe::page {
namespace {

constexpr const char* kBlob = "<path d=\"M6 13c0-6 6-9 13-8s15 2 15 8-7 9-15 8S6 19 6 13Z\"";

std::string blob(const std::string& layer) {
  return std::string(kBlob) + " class=\"m " + layer + "\" style=\"fill:url(#k-" + layer + ")\"/>";
}

std::string inside(const std::string& layer) {
  if (layer == "photo")
    return R"(<path d="M0 26L26 0M-8 21L13 0M14 26L40 0M27 26L40 13" stroke="#8b9391" stroke-width="3" fill="none"/>)";
  if (layer == "back")
    return R"(<path d="M40 26L14 0M48 21L27 0M26 26L0 0M13 26L0 13" stroke="#8b9391" stroke-width="3" fill="none"/>)";
  if (layer == "blank")
    return R"(<circle cx="20" cy="26" r="20.5" fill="none" stroke="#000" stroke-width="5" stroke-opacity=".62"/><circle class="saw" cx="20" cy="26" r="23"/><path class="ring" fill-rule="evenodd" d="M5 26a15 15 0 0 1 30 0zM11 26a9 9 0 0 1 18 0z"/>)";
  if (layer == "pin")
    return R"(<circle class="m pin" cx="20" cy="13" r="6"/><circle class="pin-dot" cx="20" cy="13" r="1.5"/>)";
  if (layer == "odd") return std::string(kBlob) + " class=\"m odd\"/>";
  if (layer == "thin")
    return R"(<path class="m thin" style="fill:none" d="M4 20C12 8 26 5 37 8"/><path class="m thin" style="fill:none" d="M9 14l4 5M16 10l3 6M24 7l1 6M31 7l0 6"/>)";
  if (layer == "use") return R"(<path class="m use" d="M2 13H38"/>)";
  if (layer == "map")
    return "<rect width=\"40\" height=\"26\" fill=\"url(#k-civ)\"/><path class=\"iso d\" d=\"M13 0C16 9 12 17 15 26\"/>"
           "<path class=\"iso\" d=\"M27 0C30 9 26 17 29 26\"/>";
  if (layer == "tow") return R"(<path class="ticks" d="M8 21L6 5M17 21L17 5M26 21L29 5M34 20L40 6"/>)";
  return blob(layer);
}

}  // namespace

std::string pattern_definitions() {
  std::string html;
  for (const std::string prefix : {"p", "k"}) {
    html += "<pattern id=\"" + prefix +
            "-dry\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\"><circle cx=\"2.5\" cy=\"2.5\" r=\"1\" "
            "fill=\"#e69f00\"/></pattern><pattern id=\"" +
            prefix +
            "-resin\" width=\"10\" height=\"5\" patternUnits=\"userSpaceOnUse\"><path d=\"M0 2.5H10\" "
            "stroke=\"#56b4e9\" stroke-width=\"1.2\"/></pattern><pattern id=\"" +
            prefix +
            "-unj\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\" data-t=\"rotate(45)\" "
            "patternTransform=\"rotate(45)\"><rect width=\"9\" height=\"9\" fill=\"#000\" fill-opacity=\".45\"/><path "
            "d=\"M0 4.5H9\" stroke=\"#fff\" stroke-width=\"1.1\"/></pattern><pattern id=\"" +
            prefix +
            "-weave\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\" data-t=\"skewX(-24)\" "
            "patternTransform=\"skewX(-24)\"><path d=\"M0 4.5H9M4.5 0V9\" stroke=\"#cc79a7\" stroke-opacity=\".75\" "
            "stroke-width=\"1\"/></pattern><pattern id=\"" +
            prefix +
            "-thin\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\"><rect width=\"9\" height=\"9\" "
            "fill=\"#000\" fill-opacity=\".25\"/></pattern>\n";
  }
  // Ends and middle of the cividis scale.
  return html +
         "<linearGradient id=\"k-civ\"><stop offset=\"0\" stop-color=\"#00224e\"/><stop offset=\".5\" "
         "stop-color=\"#7d7c78\"/><stop offset=\"1\" stop-color=\"#fee838\"/></linearGradient>\n";
}

std::string swatch(const std::string& layer) {
  return "<svg viewBox=\"0 0 40 26\" aria-hidden=\"true\"><g class=\"L\">" + inside(layer) + "</g></svg>";
}

const char* layer_of_defect(const std::string& kind) {
  if (kind == "dry_spot") return "dry";
  if (kind == "suspect") return "odd";
  return kind == "pinhole" ? "pin" : "resin";
}

}  // namespace sheetloupe::page
