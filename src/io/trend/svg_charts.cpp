// Charts along the sheets: values, moving ranges, outcomes.
#include <algorithm>
#include <cmath>

#include "io/trend/parts.h"
#include "io/trend/svg.h"

namespace sheetloupe::trend_page_parts {
namespace {

using page::escaped;

constexpr double kLeft = 52, kRight = 980, kWide = 1096;

// Of its own name: a pattern of another picture may not be there.
constexpr const char* kHatch =
    "<defs><pattern id=\"hatch2\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" "
    "patternTransform=\"rotate(45)\"><path d=\"M0 3H6\" stroke=\"var(--ink2)\" stroke-width=\"1.1\"/></pattern></defs>";

std::string at(double v) {
  char buffer[32];
  std::snprintf(buffer, sizeof buffer, "%.1f", v);
  return buffer;
}

// A vertical axis with round steps that holds all values.
struct Axis {
  double low = 0, high = 1, step = 1, top = 22, bottom = 206;
  int digits = 0;

  Axis(std::vector<double> values, bool from_zero, double top_px, double bottom_px) : top(top_px), bottom(bottom_px) {
    if (from_zero || values.empty()) values.push_back(0.0);
    const auto [a, b] = std::minmax_element(values.begin(), values.end());
    const double span = *b - *a > 0 ? *b - *a : std::max(1.0, std::abs(*b));
    const double rough = span / 4, power = std::pow(10.0, std::floor(std::log10(rough)));
    const double m = rough / power;
    step = power * (m <= 1 ? 1 : m <= 2 ? 2 : m <= 5 ? 5 : 10);
    low = std::floor(*a / step + 1e-9) * step;
    high = std::ceil(*b / step - 1e-9) * step;
    if (high - low < step) high = low + step;
    digits = std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9)));
  }
  double y(double v) const { return bottom - (v - low) / (high - low) * (bottom - top); }
  std::string grid() const {
    std::string svg;
    for (int i = 0; low + i * step <= high + step * 1e-6; ++i) {
      const double v = low + i * step;
      svg += "<path class=\"gr\" d=\"M" + at(kLeft) + " " + at(y(v)) + "H" + at(kRight) + "\"/><text x=\"" +
             at(kLeft - 8) + "\" y=\"" + at(y(v) + 4) + "\" text-anchor=\"end\">" + text(v, digits) + "</text>";
    }
    return svg;
  }
};

double x_of(std::size_t i, std::size_t n) {
  return n < 2 ? (kLeft + kRight) / 2
               : kLeft + 24 + (kRight - kLeft - 48) * static_cast<double>(i) / static_cast<double>(n - 1);
}

// Sheet names under the axis: as many as find room, always the newest.
std::string names(const Json& points, double y) {
  const std::size_t n = points.size();
  std::size_t widest = 4;
  for (const Json& p : points) widest = std::max(widest, p["sheet"].get<std::string>().size());
  const double room = static_cast<double>(widest) * 8 + 12;
  const auto every =
      static_cast<std::size_t>(std::max(1.0, std::ceil(room * static_cast<double>(n) / (kRight - kLeft))));
  std::string svg;
  for (std::size_t i = 0; i < n; ++i) {
    if ((n - 1 - i) % every != 0) continue;
    const std::string x = at(x_of(i, n));
    svg += "<path class=\"ax\" d=\"M" + x + " " + at(y) + "v5\"/><text x=\"" + x + "\" y=\"" + at(y + 20) +
           "\" text-anchor=\"middle\"" + (i + 1 == n ? " class=\"b\"" : "") + ">" +
           escaped(points[i]["sheet"].get<std::string>()) + "</text>";
  }
  return svg;
}

std::string line(const char* kind, double y) {
  return std::string("<path class=\"") + kind + "\" d=\"M" + at(kLeft) + " " + at(y) + "H" + at(kRight) + "\"/>";
}

// Labels beside the chart, pushed apart so that none covers another.
struct Label {
  double y;
  std::string kind, words;
};

std::string labels(std::vector<Label> list) {
  std::sort(list.begin(), list.end(), [](const Label& a, const Label& b) { return a.y < b.y; });
  std::string svg;
  double last = -1e9;
  for (const Label& l : list) {
    const double y = std::max(l.y, last + 14);
    svg +=
        "<text class=\"" + l.kind + "\" x=\"" + at(kRight + 10) + "\" y=\"" + at(y + 4) + "\">" + l.words + "</text>";
    last = y;
  }
  return svg;
}

std::string path(const std::vector<std::pair<double, double>>& points, const char* kind) {
  std::string d;
  for (const auto& [x, y] : points) d += (d.empty() ? "M" : "L") + at(x) + " " + at(y);
  return points.size() < 2 ? "" : std::string("<path class=\"") + kind + "\" d=\"" + d + "\"/>";
}

std::string open(double height, const std::string& label) {
  return "<svg class=\"ch\" viewBox=\"0 0 " + at(kWide) + " " + at(height) + "\" role=\"img\" aria-label=\"" + label +
         "\">";
}

// The 95 % interval of one sheet's own figure, as far as the chart reaches.
std::string whisker(const Axis& axis, double x, const Json& point) {
  const Json& u95 = point["u95"];
  if (!u95.is_number() || u95.get<double>() <= 0) return "";
  const double v = point["value"].get<double>(), u = u95.get<double>();
  return "<path class=\"wh\" d=\"M" + at(x) + " " + at(axis.y(std::max(axis.low, v - u))) + "V" +
         at(axis.y(std::min(axis.high, v + u))) + "\"/>";
}

std::string mark(double x, double y, bool signal) {
  if (!signal) return "<circle class=\"p\" cx=\"" + at(x) + "\" cy=\"" + at(y) + "\" r=\"4.5\"/>";
  return "<path class=\"sig\" d=\"M" + at(x) + " " + at(y - 8) + "l8 8l-8 8l-8 -8z\"/>";
}

}  // namespace

std::string chart_svg(const Json& c) {
  const Json& points = c["points"];
  const bool enough = c["enough"].get<bool>(), from_zero = c["from_zero"].get<bool>();
  const int digits = c["digits"].get<int>();
  const std::size_t n = points.size();
  std::vector<double> values;
  for (const Json& p : points) values.push_back(p["value"].get<double>());
  std::vector<double> all = values;
  const bool lower = enough && (!from_zero || c["lower"].get<double>() > 0);
  if (enough) all.push_back(c["upper"].get<double>());
  if (lower) all.push_back(c["lower"].get<double>());
  const Axis axis(all, from_zero, 22, 206);
  std::string svg =
      open(238, escaped(c["title"].get<std::string>()) + " by sheet. " + escaped(c["sentence"].get<std::string>()));
  svg += axis.grid() + names(points, axis.bottom);
  std::vector<Label> side;
  if (enough) {
    svg += line("cl", axis.y(c["mean"].get<double>())) + line("li", axis.y(c["upper"].get<double>()));
    side.push_back({axis.y(c["mean"].get<double>()), "tk", "usual " + text(c["mean"].get<double>(), digits)});
    side.push_back({axis.y(c["upper"].get<double>()), "lt", "limit " + text(c["upper"].get<double>(), digits)});
    if (lower) {
      svg += line("li", axis.y(c["lower"].get<double>()));
      side.push_back({axis.y(c["lower"].get<double>()), "lt", "limit " + text(c["lower"].get<double>(), digits)});
    }
  }
  std::vector<std::pair<double, double>> run, ewma;
  for (std::size_t i = 0; i < n; ++i) run.emplace_back(x_of(i, n), axis.y(values[i]));
  svg += path(run, "ln");
  if (enough) {
    const Json& e = c["ewma"]["values"];
    for (std::size_t i = 0; i < n; ++i)
      ewma.emplace_back(x_of(i, n), axis.y(std::clamp(e[i].get<double>(), axis.low, axis.high)));
    svg += path(ewma, "ew");
    side.push_back({ewma.back().second, "lk", "running mean"});
  }
  for (std::size_t i = 0; i < n; ++i) svg += whisker(axis, run[i].first, points[i]);
  for (std::size_t i = 0; i < n; ++i) svg += mark(run[i].first, run[i].second, points[i].contains("signal"));
  if (enough && n > 0 && points[n - 1].contains("signal"))
    svg += "<text class=\"b\" x=\"" + at(run[n - 1].first - 14) + "\" y=\"" + at(run[n - 1].second + 4) +
           "\" text-anchor=\"end\">" + text(values[n - 1], digits) + "</text>";
  return svg + labels(side) + "</svg>";
}

std::string range_svg(const Json& c) {
  const Json& ranges = c["moving_range"]["values"];
  const int digits = c["digits"].get<int>();
  std::vector<double> values;
  for (const Json& v : ranges) values.push_back(v.get<double>());
  const double upper = c["moving_range"]["upper"].get<double>(), mean = c["moving_range"]["mean"].get<double>();
  std::vector<double> all = values;
  all.push_back(upper);
  const Axis axis(all, true, 14, 90);
  const std::size_t n = c["points"].size(), shift = n - values.size();
  std::string svg = open(102, "Step from sheet to sheet, " + escaped(c["title"].get<std::string>())) + axis.grid();
  svg += line("cl", axis.y(mean)) + line("li", axis.y(upper));
  std::vector<std::pair<double, double>> run;
  for (std::size_t i = 0; i < values.size(); ++i) run.emplace_back(x_of(i + shift, n), axis.y(values[i]));
  svg += path(run, "ln");
  for (std::size_t i = 0; i < values.size(); ++i) svg += mark(run[i].first, run[i].second, values[i] > upper);
  return svg +
         labels({{axis.y(mean), "tk", "usual " + text(mean, digits)},
                 {axis.y(upper), "lt", "limit " + text(upper, digits)}}) +
         "</svg>";
}

std::string forecast_svg(const Json& f) {
  const Json& points = f["points"];
  std::vector<double> all;
  for (const Json& p : points) all.push_back(std::max(p["planned"].get<double>(), 1.0));
  const Axis axis(all, true, 14, 150);
  const std::size_t n = points.size();
  const double wide = std::min(26.0, 0.6 * (kRight - kLeft - 48) / static_cast<double>(std::max<std::size_t>(n, 2)));
  std::string svg =
      open(182, "Blanks planned, good and spoiled, by sheet") + kHatch + axis.grid() + names(points, axis.bottom);
  for (std::size_t i = 0; i < n; ++i) {
    const double x = x_of(i, n) - wide / 2, good = points[i]["good"].get<double>(),
                 bad = points[i]["spoiled"].get<double>();
    const auto box = [&](const char* kind, double from, double to) {
      return to <= from ? std::string()
                        : std::string("<rect class=\"") + kind + "\" x=\"" + at(x) + "\" y=\"" + at(axis.y(to)) +
                              "\" width=\"" + at(wide) + "\" height=\"" + at(axis.y(from) - axis.y(to)) + "\"/>";
    };
    svg += box("bar2", 0, good) + box("sp", good, good + bad);
    const double y = axis.y(points[i]["planned"].get<double>());
    svg += "<path class=\"iv\" d=\"M" + at(x - 3) + " " + at(y) + "h" + at(wide + 6) + "\"/>";
  }
  return svg + "</svg>";
}

}  // namespace sheetloupe::trend_page_parts
