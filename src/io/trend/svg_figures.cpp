// Bars by cause, the map of places, the interval of an effect.
#include <algorithm>
#include <cmath>

#include "io/trend/parts.h"
#include "io/trend/svg.h"

namespace sheetloupe::trend_page_parts {
namespace {

using page::escaped;

std::string at(double v) {
  char buffer[32];
  std::snprintf(buffer, sizeof buffer, "%.1f", v);
  return buffer;
}

}  // namespace

std::string bars_svg(const Json& bars, const std::string& label, int digits) {
  constexpr double kLeft = 138, kLong = 216, kShareLeft = 424, kShareRight = 500, kRow = 42;
  const double most = bars[0]["amount"].get<double>(), height = 24 + kRow * static_cast<double>(bars.size());
  std::string svg = "<svg class=\"ch sm\" viewBox=\"0 0 520 " + at(height) + "\" role=\"img\" aria-label=\"" +
                    escaped(label) +
                    "\"><defs><pattern id=\"hatch\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" "
                    "patternTransform=\"rotate(45)\"><path d=\"M0 3H6\" stroke=\"var(--ink2)\" "
                    "stroke-width=\"1.1\"/></pattern></defs>";
  std::string run;
  for (std::size_t i = 0; i < bars.size(); ++i) {
    const double y = 22 + kRow * static_cast<double>(i), wide = kLong * bars[i]["amount"].get<double>() / most;
    const double share = bars[i]["running_percent"].get<double>(),
                 x = kShareLeft + (kShareRight - kShareLeft) * share / 100;
    svg += "<text class=\"tk\" x=\"" + at(kLeft - 8) + "\" y=\"" + at(y + 15) + "\" text-anchor=\"end\">" +
           escaped(bars[i]["words"].get<std::string>()) + "</text><rect class=\"bar\" x=\"" + at(kLeft) + "\" y=\"" +
           at(y) + "\" width=\"" + at(std::max(1.0, wide)) + "\" height=\"22\"/><text class=\"b\" x=\"" +
           at(kLeft + wide + 8) + "\" y=\"" + at(y + 15) + "\">" + text(bars[i]["amount"].get<double>(), digits) +
           "</text><circle class=\"pt\" cx=\"" + at(x) + "\" cy=\"" + at(y + 11) + "\" r=\"4\"/><text x=\"" +
           at(x - 9) + "\" y=\"" + at(y + 15) + "\" text-anchor=\"end\">" + text(share, 0) + " %</text>";
    run += (run.empty() ? "M" : "L") + at(x) + " " + at(y + 11);
  }
  svg += "<path class=\"cum\" d=\"" + run + "\"/><text x=\"" + at(kShareRight) +
         "\" y=\"12\" text-anchor=\"end\">running share</text>";
  return svg + "<path class=\"ax\" d=\"M" + at(kLeft) + " 18V" + at(height - 4) + "M" + at(kShareRight) + " 18V" +
         at(height - 4) + "\"/></svg>";
}

std::string density_svg(const Json& d) {
  const int columns = d["columns"].get<int>(), rows = d["rows"].get<int>();
  const double cell_mm = d["cell_mm"].get<double>(), cell = 466.0 / columns, left = 40, top = 28;
  const double wide = cell * columns, high = cell * rows;
  int most = 1;
  for (const Json& c : d["cells"]) most = std::max(most, c["count"].get<int>());
  std::string svg = "<svg class=\"ch sm\" viewBox=\"0 0 520 " + at(top + high + 12) + "\" role=\"img\" aria-label=\"" +
                    escaped(d["sentence"].get<std::string>()) + "\"><rect x=\"" + at(left) + "\" y=\"" + at(top) +
                    "\" width=\"" + at(wide) + "\" height=\"" + at(high) +
                    "\" fill=\"none\" stroke=\"var(--ink)\" stroke-width=\"1.4\"/><path d=\"M" + at(left) + " " +
                    at(top) + "h11l-11 11z\" fill=\"var(--ink)\"/>";
  for (int c = 0; c <= columns; ++c) {
    const bool named = c % 2 == 0;
    svg += "<path class=\"ax\" d=\"M" + at(left + c * cell) + " " + at(top - 2) + "v" + (named ? "-8" : "-4") + "\"/>";
    if (named)
      svg +=
          "<text x=\"" + at(left + c * cell) + "\" y=\"15\" text-anchor=\"middle\">" + text(c * cell_mm, 0) + "</text>";
  }
  for (int r = 1; r <= rows; ++r) {
    svg += "<path class=\"ax\" d=\"M" + at(left - 2) + " " + at(top + r * cell) + "h" + (r % 2 == 0 ? "-8" : "-4") +
           "\"/>";
    if (r % 2 == 0)
      svg += "<text x=\"" + at(left - 13) + "\" y=\"" + at(top + r * cell + 4) + "\" text-anchor=\"end\">" +
             text(r * cell_mm, 0) + "</text>";
  }
  // Circle area is the count.
  for (std::size_t i = 0; i < d["cells"].size(); ++i) {
    const Json& c = d["cells"][i];
    const int count = c["count"].get<int>();
    const int column = static_cast<int>(i) % columns, row = static_cast<int>(i) / columns;
    const double x = left + (column + 0.5) * cell, y = top + (row + 0.5) * cell;
    if (count == 0) {
      svg += "<path class=\"ax\" d=\"M" + at(x - 3) + " " + at(y) + "h6\"/>";
      continue;
    }
    const double r = std::max(3.0, 0.46 * cell * std::sqrt(static_cast<double>(count) / most));
    svg += "<circle cx=\"" + at(x) + "\" cy=\"" + at(y) + "\" r=\"" + at(r) +
           "\" fill=\"none\" stroke=\"var(--ink)\" stroke-width=\"" + (c["crowded"].get<bool>() ? "3.2" : "1.2") +
           "\"/>";
    if (r >= 9)
      svg += "<text class=\"b\" x=\"" + at(x) + "\" y=\"" + at(y + 4) + "\" text-anchor=\"middle\">" +
             std::to_string(count) + "</text>";
    else
      svg += "<circle class=\"pt\" cx=\"" + at(x) + "\" cy=\"" + at(y) + "\" r=\"1.4\"/>";
  }
  return svg + "</svg>";
}

// In scatters of the measure from sheet to sheet, so that rows can be compared; the line ends at two.
std::string effect_svg(const Json& row) {
  const double scatter = std::max(1e-12, row["scatter"].get<double>());
  const auto x = [&](const char* key) { return 110 + 51 * std::clamp(row[key].get<double>() / scatter, -2.0, 2.0); };
  const double low = x("low"), high = x("high"), value = x("change");
  const bool clear = row["reads"] == "moves with it";
  return "<svg class=\"gauge\" style=\"width:220px;height:26px\" viewBox=\"0 0 220 26\" aria-hidden=\"true\"><path "
         "d=\"M8 14H212\" "
         "stroke=\"var(--rule)\"/><path d=\"M110 4V24\" stroke=\"var(--ink)\" stroke-width=\"1.4\"/><path d=\"M" +
         at(low) + " 14H" + at(high) + "M" + at(low) + " 9.5v9M" + at(high) +
         " 9.5v9\" stroke=\"var(--ink)\" stroke-width=\"2\" fill=\"none\"/><circle cx=\"" + at(value) +
         "\" cy=\"14\" r=\"3.6\" fill=\"var(--" + (clear ? "ink" : "paper") +
         ")\" stroke=\"var(--ink)\" stroke-width=\"1.6\"/></svg>";
}

}  // namespace sheetloupe::trend_page_parts
