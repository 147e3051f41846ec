#include "io/page/turn_map.h"

#include <cmath>
#include <cstdio>
#include <opencv2/imgproc.hpp>

#include "io/png.h"

namespace sheetloupe::page {
namespace {

constexpr double kNotRead = -1.0;

struct Grid {
  int columns = 0, rows = 0;
  double x = 0, y = 0, step = 1;
  std::vector<double> turn;  // the larger of the two tow sets' turns, or kNotRead

  double value(int row, int column) const { return turn[static_cast<std::size_t>(row) * columns + column]; }
};

Grid grid_of(const Json& reading) {
  Grid g;
  const Json &warp = list_at(reading, "warp_turn_deg"), &weft = list_at(reading, "weft_turn_deg");
  g.columns = static_cast<int>(number_of(at(reading, {"columns"})));
  g.rows = static_cast<int>(number_of(at(reading, {"rows"})));
  const auto cells = static_cast<std::size_t>(std::max(0, g.columns)) * static_cast<std::size_t>(std::max(0, g.rows));
  if (cells == 0 || warp.size() != cells || weft.size() != cells || list_at(reading, "origin_mm").size() != 2)
    return {};
  g.x = reading["origin_mm"][0];
  g.y = reading["origin_mm"][1];
  g.step = number_of(at(reading, {"step_mm"}), 1.0);
  for (std::size_t i = 0; i < cells; ++i) {
    g.turn.push_back(warp[i].is_number() && weft[i].is_number()
                         ? std::max(std::abs(warp[i].get<double>()), std::abs(weft[i].get<double>()))
                         : kNotRead);
  }
  return g;
}

std::string coloured_png(const Grid& g, double top) {
  cv::Mat1b level(g.rows, g.columns), seen(g.rows, g.columns);
  for (int r = 0; r < g.rows; ++r) {
    for (int c = 0; c < g.columns; ++c) {
      level(r, c) = cv::saturate_cast<uchar>(255.0 * g.value(r, c) / top);
      seen(r, c) = g.value(r, c) == kNotRead ? 0 : 255;
    }
  }
  cv::Mat colour, picture;
  cv::applyColorMap(level, colour, cv::COLORMAP_CIVIDIS);
  cv::merge(std::vector<cv::Mat>{colour, seen}, picture);  // channels: 3 of the first, then the second
  return png_bytes(picture);
}

std::string segment(double x1, double y1, double x2, double y2) {
  char buffer[80];
  std::snprintf(buffer, sizeof buffer, "M%.1f %.1fL%.1f %.1f", x1, y1, x2, y2);
  return buffer;
}

// Marching squares over the cells' centres; saddles are cut by their first pair of crossings.
std::string contour(const Grid& g, double level) {
  std::string path;
  for (int r = 0; r + 1 < g.rows; ++r) {
    for (int c = 0; c + 1 < g.columns; ++c) {
      const double v[4] = {g.value(r, c), g.value(r, c + 1), g.value(r + 1, c + 1), g.value(r + 1, c)};
      if (std::min(std::min(v[0], v[1]), std::min(v[2], v[3])) == kNotRead) continue;
      constexpr double kX[5] = {0, 1, 1, 0, 0}, kY[5] = {0, 0, 1, 1, 0};
      std::vector<std::array<double, 2>> cuts;
      for (int side = 0; side < 4; ++side) {
        const double a = v[side], b = v[(side + 1) % 4];
        if ((a < level) == (b < level)) continue;
        const double t = (level - a) / (b - a);
        cuts.push_back({g.x + g.step * (c + 0.5 + kX[side] + t * (kX[side + 1] - kX[side])),
                        g.y + g.step * (r + 0.5 + kY[side] + t * (kY[side + 1] - kY[side]))});
      }
      for (std::size_t i = 0; i + 1 < cuts.size(); i += 2)
        path += segment(cuts[i][0], cuts[i][1], cuts[i + 1][0], cuts[i + 1][1]);
    }
  }
  return path;
}

// Where the label of a contour stands: the start of its middle segment.
std::string label_at(const std::string& path, double level) {
  const std::size_t middle = path.find('M', path.size() / 2);
  double x = 0, y = 0;
  if (std::sscanf(path.c_str() + (middle == std::string::npos ? 0 : middle), "M%lf %lfL", &x, &y) != 2) return "";
  char buffer[200];
  std::snprintf(buffer, sizeof buffer,
                "<g data-s=\"%.1f %.1f\" transform=\"translate(%.1f %.1f)\"><text class=\"lbl\" y=\"4\">%.0f\u00b0"
                "</text></g>",
                x, y, x, y, level);
  return buffer;
}

}  // namespace

int turn_scale_deg(const Json& reading) {
  double most = 0;
  for (const double turn : grid_of(reading).turn) most = std::max(most, turn);
  return std::max(2, static_cast<int>(std::ceil(most)));
}

std::string turn_map(const Json& reading) {
  const Grid g = grid_of(reading);
  if (g.turn.empty()) return "";
  const int top = turn_scale_deg(reading);
  char place[240];
  std::snprintf(place, sizeof place,
                "<image x=\"%.3f\" y=\"%.3f\" width=\"%.3f\" height=\"%.3f\" preserveAspectRatio=\"none\" "
                "opacity=\".88\" href=\"data:image/png;base64,",
                g.x, g.y, g.columns * g.step, g.rows * g.step);
  std::string svg = place + base64(coloured_png(g, top)) + "\"/>";
  const int every = top <= 2 ? 1 : top <= 10 ? 2 : 5;
  for (int level = every; level <= top; level += every) {
    const std::string path = contour(g, level);
    if (path.empty()) continue;
    svg += "<path class=\"iso0\" d=\"" + path + "\"/><path class=\"iso\" d=\"" + path + "\"/>" + label_at(path, level);
  }
  return svg;
}

std::string tow_lines(const Json& weave) {
  const Json& reading = at(weave, {"reading"});
  const Grid g = grid_of(reading);
  if (g.turn.empty()) return "";
  constexpr double kExaggeration = 4.0, kHalf = 3.2;  // mm
  std::string path;
  for (int r = 0; r < g.rows; r += 2) {
    for (int c = 0; c < g.columns; c += 2) {
      if (g.value(r, c) == kNotRead) continue;
      const std::size_t i = static_cast<std::size_t>(r) * g.columns + c;
      const double x = g.x + g.step * (c + 0.5), y = g.y + g.step * (r + 0.5);
      for (const auto& [mean, turns] :
           {std::pair{"warp_deg", "warp_turn_deg"}, std::pair{"weft_deg", "weft_turn_deg"}}) {
        const double angle = (number_of(at(weave, {mean})) + kExaggeration * reading[turns][i].get<double>()) *
                             3.14159265358979323846 / 180.0;
        // Positive angles turn counter-clockwise as seen; y runs down.
        const double dx = kHalf * std::cos(angle), dy = -kHalf * std::sin(angle);
        path += segment(x - dx, y - dy, x + dx, y + dy);
      }
    }
  }
  return "<path class=\"ticks0\" d=\"" + path + "\"/><path class=\"ticks\" d=\"" + path + "\"/>";
}

}  // namespace sheetloupe::page
