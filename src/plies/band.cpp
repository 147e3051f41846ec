#include "plies/band.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "plies/coarse_band.h"
#include "plies/line_fit.h"
#include "sheetloupe/median.h"

namespace sheetloupe::plies {
namespace {

// Phones store light raised to about 1 / 2.2 (IEC 61966-2-1), which lets bright ground eat into a dark band by some
// 0.3 px; borders are placed in light.
const std::array<float, 256>& light_of() {
  static const std::array<float, 256> table = [] {
    std::array<float, 256> t{};
    for (int i = 0; i < 256; ++i) t[i] = static_cast<float>(255 * std::pow(i / 255.0, 2.2));
    return t;
  }();
  return table;
}

constexpr int kColumnsABlock = 12;

// A column of the photo in the profile that it belongs to.
struct Column {
  int x = 0;
  float above = 1.0F, below = 0.0F;  // shares in the profile's mean of the two rows that a profile's row lies between
};

// Columns next to each other of one profile, whose first row lies between rows `base` and `base` + 1 of the photo.
struct Columns {
  int block = 0, base = 0;
  std::vector<Column> members;
};

std::vector<Columns> columns_of(const cv::Mat& bgr, const StraightLine& line, double from, double width, int blocks,
                                int reach) {
  std::vector<Columns> columns;
  for (int block = 0; block < blocks; ++block) {
    const int x0 = std::clamp(cvRound(from + block * width), 0, bgr.cols - 1);
    const int x1 = std::clamp(cvRound(from + (block + 1) * width), x0 + 1, bgr.cols);
    const int step = std::max(1, (x1 - x0) / kColumnsABlock), count = (x1 - x0 + step - 1) / step;
    for (int x = x0; x < x1; x += step) {
      // The fraction of a row is kept by linear mixing, else slanted lines would be blurred by a pixel.
      const double y0 = line.at(x) - reach;
      const auto part = static_cast<float>(y0 - cvFloor(y0));
      if (columns.empty() || columns.back().block != block || columns.back().base != cvFloor(y0))
        columns.push_back({block, cvFloor(y0), {}});
      columns.back().members.push_back({x, (1 - part) / count, part / count});
    }
  }
  return columns;
}

// Mean light of column blocks of the photo, sheared along the line: rows run across the edge, one column a block.
cv::Mat3f block_profiles(const cv::Mat& bgr, const StraightLine& line, double from, double width, int blocks,
                         int reach) {
  const auto& light = light_of();
  const std::vector<Columns> columns = columns_of(bgr, line, from, width, blocks, reach);
  const auto [low, high] = std::minmax(columns.front().base, columns.back().base);
  // With a row for what lies beyond each end.
  cv::Mat3f profiles(2 * reach + 3, blocks, cv::Vec3f(0, 0, 0));
  // The photo's rows one after the other, because the pixels of a row lie together in memory.
  for (int y = low; y <= high + 2 * reach + 1; ++y) {
    const auto* row = bgr.ptr(std::clamp(y, 0, bgr.rows - 1));
    for (const Columns& some : columns) {
      const int i = y - some.base;
      if (i < 0 || i > 2 * reach + 1) continue;
      cv::Vec3f &here = profiles(i + 1, some.block), &before = profiles(i, some.block);
      float h0 = here[0], h1 = here[1], h2 = here[2], b0 = before[0], b1 = before[1], b2 = before[2];
      for (const Column& c : some.members) {
        const auto* p = row + std::size_t{3} * c.x;
        const float l0 = light[p[0]], l1 = light[p[1]], l2 = light[p[2]];
        h0 += c.above * l0, h1 += c.above * l1, h2 += c.above * l2;
        b0 += c.below * l0, b1 += c.below * l1, b2 += c.below * l2;
      }
      here = {h0, h1, h2};
      before = {b0, b1, b2};
    }
  }
  return profiles.rowRange(1, 2 * reach + 2).clone();
}

// One block's steps of light from row to row, outside first.
std::vector<double> steps_of(const cv::Mat3f& soft, int block, bool down) {
  const int n = soft.rows;
  std::vector<double> step(n, 0.0);
  for (int i = 1; i + 1 < n; ++i) {
    const cv::Vec3f d = soft(i + 1, block) - soft(i - 1, block);
    step[down ? i : n - 1 - i] = std::sqrt(d.dot(d));
  }
  return step;
}

struct Peak {
  double row = 0.0, height = 0.0;
};

// Steps that stand out of their surroundings; of several within 4 px, as sharpening makes them, the highest.
std::vector<Peak> peaks_of(const std::vector<double>& step) {
  std::vector<Peak> peaks;
  const int n = static_cast<int>(step.size());
  for (int i = 4; i + 4 < n; ++i) {
    if (*std::max_element(step.begin() + i - 4, step.begin() + i + 5) > step[i]) continue;
    const double low = std::max(*std::min_element(step.begin() + i - 4, step.begin() + i),
                                *std::min_element(step.begin() + i + 1, step.begin() + i + 5));
    const double curve = step[i - 1] - 2 * step[i] + step[i + 1];
    peaks.push_back({i + (curve < -1e-9 ? 0.5 * (step[i - 1] - step[i + 1]) / curve : 0.0), step[i] - low});
  }
  return peaks;
}

struct Look {
  int reach = 0;       // px to both sides of the line
  double share = 0.0;  // of a block's highest peak that the border must reach
};

// Where the ground ends, in every block: the outermost peak that the plain ground does not show.
FaceLine refine(const cv::Mat& bgr, const StraightLine& coarse, double from, double to, bool is_top, const Look& look) {
  const int reach = look.reach;
  const int blocks = std::clamp(cvRound((to - from) / 24), 24, 128);
  const double width = (to - from) / blocks;
  FaceLine line;
  line.first_x = from + width / 2;
  line.step = width;
  std::vector<std::vector<Peak>> all(blocks);
  std::vector<float> ground;
  // A derivative at 1.2 px keeps borders and drops shadows.
  cv::Mat3f soft = block_profiles(bgr, coarse, from, width, blocks, reach);
  cv::GaussianBlur(soft, soft, {1, 9}, 1.2, 1.2, cv::BORDER_REPLICATE);
  for (int b = 0; b < blocks; ++b) {
    all[b] = peaks_of(steps_of(soft, b, is_top));
    for (const Peak& p : all[b]) {
      if (p.row < 0.5 * reach) ground.push_back(static_cast<float>(p.height));
    }
  }
  // Three times the median of the ground's own peaks is passed by one in a hundred of them when they are noise.
  const double least = ground.size() < 20 ? 0.5 : std::max(0.5, 3.0 * median(ground));
  std::vector<cv::Point2d> places;
  for (int b = 0; b < blocks; ++b) {
    double most = 0;
    for (const Peak& p : all[b]) most = std::max(most, p.height);
    for (const Peak& p : all[b]) {
      if (p.height < least || p.height < look.share * most) continue;
      const double x = line.first_x + b * width;
      places.emplace_back(x, coarse.at(x) + (is_top ? p.row - reach : reach - p.row));
      break;
    }
  }
  fit_face_line(places, blocks, line);
  return line;
}

struct Tried {
  Band band;
  double merit = -1e9;
};

Tried try_coarse(const cv::Mat& bgr, const CoarseBand& coarse, double scale) {
  Tried tried;
  Band& band = tried.band;
  const auto full = [&](const StraightLine& l) {
    return StraightLine{l.slope, (l.offset + 0.5) * scale - 0.5 - 0.5 * l.slope * (scale - 1)};
  };
  const StraightLine top = full(coarse.top), bottom = full(coarse.bottom);
  band.from_x = coarse.from <= 3 ? 0 : coarse.from * scale;
  band.to_x = coarse.to >= cvRound(bgr.cols / scale) - 4 ? bgr.cols - 1 : (coarse.to + 1) * scale;
  const double middle = 0.5 * (band.from_x + band.to_x), height = bottom.at(middle) - top.at(middle);
  // A first line takes out what the coarse one is off, a second looks closer.
  const auto reach = [&](double part) { return cvRound(std::clamp(part * height, 5 * scale, 0.45 * height + 2)); };
  const Look wide{reach(0.25), 0.25}, close{reach(0.08), 0.3};
  band.top = refine(bgr, top, band.from_x, band.to_x, true, wide);
  band.bottom = refine(bgr, bottom, band.from_x, band.to_x, false, wide);
  band.top = refine(bgr, theil_sen(sampled(band.top)), band.from_x, band.to_x, true, close);
  band.bottom = refine(bgr, theil_sen(sampled(band.bottom)), band.from_x, band.to_x, false, close);
  tried.merit = 0.5 * (band.top.cover + band.bottom.cover) + 0.5 * std::min(band.top.cover, band.bottom.cover) -
                0.02 * (band.top.rms_px + band.bottom.rms_px);
  // Lines that met are one border taken twice.
  double closest = 1e9;
  for (std::size_t i = 0; i < band.top.y.size(); ++i) closest = std::min(closest, band.bottom.y[i] - band.top.y[i]);
  // So are borders of the picture.
  const auto [low, high] = std::pair(*std::min_element(band.top.y.begin(), band.top.y.end()),
                                     *std::max_element(band.bottom.y.begin(), band.bottom.y.end()));
  band.found = closest > std::max(3.0, 0.4 * height) && low > 3 && high < bgr.rows - 4;
  return tried;
}

void finish(Band& band) {
  const StraightLine t = theil_sen(sampled(band.top)), b = theil_sen(sampled(band.bottom));
  band.slope = 0.5 * (t.slope + b.slope);
  double sum = 0;
  for (std::size_t i = 0; i < band.top.y.size(); ++i) sum += band.bottom.y[i] - band.top.y[i];
  // Columns are upright in the photo; the height is square to the edge.
  band.height_px = sum / static_cast<double>(band.top.y.size()) / std::hypot(1.0, band.slope);
}

}  // namespace

double FaceLine::at(double x) const {
  const double p = std::clamp((x - first_x) / step, 0.0, static_cast<double>(y.size()) - 1);
  const auto i = std::min(static_cast<std::size_t>(p), y.size() - 2);
  // Beyond the first and last place the line goes on straight.
  const double t = (x - first_x) / step - static_cast<double>(i);
  return y[i] + std::clamp(t, -1.0, 2.0) * (y[i + 1] - y[i]);
}

Band find_band(const cv::Mat& bgr) {
  std::vector<Tried> tries;
  double merit = 0.5;  // of the worst band worth a look: borders found on half of their length
  const CoarseBands coarse = find_coarse_bands(bgr);
  for (const CoarseBand& band : coarse.bands) {
    Tried tried = try_coarse(bgr, band, coarse.scale);
    if (!tried.band.found) continue;
    merit = std::max(merit, tried.merit);
    tries.push_back(std::move(tried));
  }
  // Of bands about as good the tallest: a cue that takes a part of the edge for the whole finds that part's borders.
  Tried best;
  for (Tried& tried : tries) {
    if (tried.merit < merit - 0.35) continue;
    const auto tall = [](const Band& band) {
      return band.found ? band.bottom.y[0] - band.top.y[0] + band.bottom.y.back() - band.top.y.back() : 0.0;
    };
    if (tall(tried.band) > tall(best.band)) best = std::move(tried);
  }
  if (!best.band.found) {
    best.band.reason =
        "No cut edge was found that runs across the picture. Lay the phone so that the edge runs along the picture's "
        "long side, fill half of its height, and put a plain white card behind.";
    return best.band;
  }
  finish(best.band);
  return best.band;
}

int shown_rows(const Band& band) { return std::clamp(cvRound(band.height_px), 12, 480); }

int shown_columns(const Band& band) { return std::clamp(static_cast<int>(band.to_x - band.from_x), 64, 2016); }

GreyRows grey_rows(const cv::Mat& bgr, const Band& band) {
  const double low = *std::min_element(band.top.y.begin(), band.top.y.end());
  const double high = *std::max_element(band.bottom.y.begin(), band.bottom.y.end());
  // The outermost look is at 1.3 plies of a sheet of two.
  const double beyond = 0.65 * (high - low) + 4;
  GreyRows rows;
  rows.first = std::clamp(cvFloor(low - beyond), 0, bgr.rows - 1);
  const int last = std::clamp(cvCeil(high + beyond), rows.first + 1, bgr.rows);
  cv::cvtColor(bgr.rowRange(rows.first, last), rows.grey, cv::COLOR_BGR2GRAY);
  return rows;
}

cv::Mat1f straighten(const GreyRows& photo, const Band& band, int rows, double margin, int columns) {
  const int extra = cvRound(margin * rows);
  cv::Mat1f map_x(rows + 2 * extra, columns), map_y(rows + 2 * extra, columns);
  const double step = (band.to_x - band.from_x) / columns;
  std::vector<float> x(columns), start(columns), pace(columns);
  for (int c = 0; c < columns; ++c) {
    const double at = band.from_x + (c + 0.5) * step, top = band.top.at(at), k = (band.bottom.at(at) - top) / rows;
    x[c] = static_cast<float>(at);
    start[c] = static_cast<float>(top - photo.first + (0.5 - extra) * k);
    pace[c] = static_cast<float>(k);
  }
  for (int r = 0; r < map_x.rows; ++r) {
    std::copy(x.begin(), x.end(), map_x[r]);
    for (int c = 0; c < columns; ++c) map_y(r, c) = start[c] + static_cast<float>(r) * pace[c];
  }
  cv::Mat1b grey;
  cv::remap(photo.grey, grey, map_x, map_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::Mat1f light;
  grey.convertTo(light, CV_32F);
  return light;
}

}  // namespace sheetloupe::plies
