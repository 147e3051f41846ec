#include "plies/band.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "plies/line_fit.h"

namespace sheetloupe::plies {
namespace {

// The coarse search needs no more: a band of 12 plies is then some 60 px high.
constexpr int kCoarseWidth = 640;
// Share of the picture's rows at the top and at the bottom that is taken to show nothing but the ground.
constexpr double kGroundShare = 0.06;

float median_of(std::vector<float> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// Each channel of the ground as 1, x, y, x^2, fitted to the border rows with falling weights for what does not fit
// (Holland and Welsch 1977, Cauchy weights).
cv::Mat1f ground_distance(const cv::Mat3f& lab) {
  const int rows = lab.rows, cols = lab.cols, strip = std::max(3, cvRound(kGroundShare * rows));
  cv::Mat1f distance = cv::Mat1f::zeros(lab.size());
  const auto basis = [&](int r, int c) {
    const double x = 2.0 * c / cols - 1, y = 2.0 * r / rows - 1;
    return cv::Vec4d(1, x, y, x * x);
  };
  for (int channel = 0; channel < 3; ++channel) {
    cv::Vec4d fit(0, 0, 0, 0);
    double scale = 1e9;
    for (int pass = 0; pass < 5; ++pass) {
      cv::Matx44d normal = cv::Matx44d::zeros();
      cv::Vec4d right(0, 0, 0, 0);
      std::vector<float> off;
      for (int r = 0; r < rows; r += (r == strip - 1 ? rows - 2 * strip + 1 : 1)) {
        for (int c = 0; c < cols; c += 2) {
          const cv::Vec4d b = basis(r, c);
          const double v = lab(r, c)[channel], e = v - fit.dot(b), w = 1 / (1 + std::pow(e / (2.4 * scale), 2));
          off.push_back(static_cast<float>(std::abs(e)));
          normal += w * (b * b.t());
          right += w * v * b;
        }
      }
      if (pass > 0) scale = std::max(0.4, 1.4826 * median_of(off));
      cv::solve(normal, right, fit, cv::DECOMP_SVD);
    }
    for (int r = 0; r < rows; ++r) {
      for (int c = 0; c < cols; ++c)
        distance(r, c) += static_cast<float>(std::pow((lab(r, c)[channel] - fit.dot(basis(r, c))) / scale, 2));
    }
  }
  cv::sqrt(distance, distance);
  return distance;
}

// Cues scaled to 0..255 between ground and band, so that one threshold finder serves them all.
cv::Mat1b scaled(const cv::Mat1f& cue) {
  std::vector<float> values(cue.begin(), cue.end());
  const auto high = values.begin() + static_cast<std::ptrdiff_t>(0.97 * static_cast<double>(values.size()));
  std::nth_element(values.begin(), high, values.end());
  cv::Mat1b out;
  cue.convertTo(out, CV_8U, 255.0 / std::max(1e-6F, *high));
  return out;
}

struct Coarse {
  StraightLine top, bottom;  // coarse px
  int from = 0, to = 0;
};

std::optional<Coarse> coarse_from(const cv::Mat1f& cue) {
  cv::Mat mask;
  cv::threshold(scaled(cue), mask, 0, 255, cv::THRESH_BINARY | cv::THRESH_OTSU);
  cv::morphologyEx(mask, mask, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, {13, 7}));
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(mask, labels, stats, centres, 8);
  int best = 0;
  for (int i = 1; i < count; ++i) {
    if (best == 0 || stats.at<int>(i, cv::CC_STAT_AREA) > stats.at<int>(best, cv::CC_STAT_AREA)) best = i;
  }
  if (best == 0 || stats.at<int>(best, cv::CC_STAT_WIDTH) < 0.4 * cue.cols) return {};
  Coarse coarse;
  coarse.from = stats.at<int>(best, cv::CC_STAT_LEFT);
  coarse.to = coarse.from + stats.at<int>(best, cv::CC_STAT_WIDTH) - 1;
  std::vector<cv::Point2d> top, bottom;
  for (int c = coarse.from; c <= coarse.to; c += 3) {
    int first = -1, last = -1;
    for (int r = 0; r < labels.rows; ++r) {
      if (labels.at<int>(r, c) != best) continue;
      if (first < 0) first = r;
      last = r;
    }
    if (first < 0) continue;
    top.emplace_back(c, first);
    bottom.emplace_back(c, last);
  }
  coarse.top = theil_sen(top);
  coarse.bottom = theil_sen(bottom);
  const double middle = 0.5 * (coarse.from + coarse.to);
  if (coarse.bottom.at(middle) - coarse.top.at(middle) < 2) return {};
  return coarse;
}

std::vector<cv::Mat1f> cues_of(const cv::Mat& small) {
  cv::Mat lab, grey;
  small.convertTo(lab, CV_32FC3, 1 / 255.0);
  cv::cvtColor(lab, lab, cv::COLOR_BGR2Lab);
  cv::extractChannel(lab, grey, 0);
  cv::Mat1f colour = ground_distance(lab), texture, dy;
  cv::GaussianBlur(grey, grey, {}, 0.8);
  cv::Sobel(grey, dy, CV_32F, 0, 1);
  texture = cv::abs(dy);
  cv::boxFilter(texture, texture, -1, {13, 3});
  cv::min(colour, 60, colour);
  cv::Mat1f both = colour.mul(texture), sum;
  cv::sqrt(both, both);
  const auto unit = [](const cv::Mat1f& m) { return cv::Mat1f(m / std::max(1e-6, cv::mean(m)[0])); };
  sum = unit(colour) + unit(texture);
  return {colour, texture, both, sum};
}

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

// Mean light of a column block of the photo, sheared along the line: rows of `profile` run across the edge.
cv::Mat3f block_profile(const cv::Mat& bgr, double x0, double x1, const StraightLine& line, int reach) {
  const auto& light = light_of();
  cv::Mat3f profile(2 * reach + 1, 1, cv::Vec3f(0, 0, 0));
  const int from = std::clamp(cvRound(x0), 0, bgr.cols - 1), to = std::clamp(cvRound(x1), from + 1, bgr.cols);
  const int stride = std::max(1, (to - from) / 12);
  int count = 0;
  for (int x = from; x < to; x += stride, ++count) {
    // The fraction of a row is kept by linear mixing, else slanted lines would be blurred by a pixel.
    const double y0 = line.at(x) - reach;
    const int base = cvFloor(y0);
    const auto part = static_cast<float>(y0 - base);
    for (int i = 0; i <= 2 * reach; ++i) {
      const int a = std::clamp(base + i, 0, bgr.rows - 1), b = std::clamp(base + i + 1, 0, bgr.rows - 1);
      const cv::Vec3b& p = bgr.at<cv::Vec3b>(a, x);
      const cv::Vec3b& q = bgr.at<cv::Vec3b>(b, x);
      for (int k = 0; k < 3; ++k) profile(i, 0)[k] += (1 - part) * light[p[k]] + part * light[q[k]];
    }
  }
  profile *= 1.0 / count;
  return profile;
}

// One block's steps of light from row to row, outside first. A derivative at 1.2 px keeps borders and drops shadows.
std::vector<double> steps_of(const cv::Mat3f& profile, bool down) {
  cv::Mat3f soft;
  cv::GaussianBlur(profile, soft, {1, 9}, 1.2, 1.2, cv::BORDER_REPLICATE);
  const int n = soft.rows;
  std::vector<double> step(n, 0.0);
  for (int i = 1; i + 1 < n; ++i) {
    const cv::Vec3f d = soft(i + 1, 0) - soft(i - 1, 0);
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

// Where the ground ends, in every block: the outermost peak that the plain ground does not show. `share`: of the
// block's highest peak that it must reach.
FaceLine refine(const cv::Mat& bgr, const StraightLine& coarse, double from, double to, int reach, bool is_top,
                double share) {
  const int blocks = std::clamp(cvRound((to - from) / 24), 24, 128);
  const double width = (to - from) / blocks;
  FaceLine line;
  line.first_x = from + width / 2;
  line.step = width;
  std::vector<std::vector<Peak>> all(blocks);
  std::vector<float> ground;
  for (int b = 0; b < blocks; ++b) {
    const double x = line.first_x + b * width;
    all[b] = peaks_of(steps_of(block_profile(bgr, x - width / 2, x + width / 2, coarse, reach), is_top));
    for (const Peak& p : all[b]) {
      if (p.row < 0.5 * reach) ground.push_back(static_cast<float>(p.height));
    }
  }
  // Three times the median of the ground's own peaks is passed by one in a hundred of them when they are noise.
  const double least = ground.size() < 20 ? 0.5 : std::max(0.5, 3.0 * median_of(ground));
  std::vector<cv::Point2d> places;
  for (int b = 0; b < blocks; ++b) {
    double most = 0;
    for (const Peak& p : all[b]) most = std::max(most, p.height);
    for (const Peak& p : all[b]) {
      if (p.height < least || p.height < share * most) continue;
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

Tried try_cue(const cv::Mat& bgr, const Coarse& coarse, double scale) {
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
  for (int pass = 0; pass < 2; ++pass) {
    const auto again = [&](const FaceLine& l) { return theil_sen(sampled(l)); };
    const StraightLine t = pass ? again(band.top) : top, b = pass ? again(band.bottom) : bottom;
    const int reach = cvRound(std::clamp((pass ? 0.08 : 0.25) * height, 5 * scale, 0.45 * height + 2));
    band.top = refine(bgr, t, band.from_x, band.to_x, reach, true, pass ? 0.3 : 0.25);
    band.bottom = refine(bgr, b, band.from_x, band.to_x, reach, false, pass ? 0.3 : 0.25);
  }
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
  const double scale = std::max(1.0, static_cast<double>(bgr.cols) / kCoarseWidth);
  cv::Mat small;
  cv::resize(bgr, small, {cvRound(bgr.cols / scale), cvRound(bgr.rows / scale)}, 0, 0, cv::INTER_AREA);
  std::vector<Tried> tries;
  double merit = 0.5;  // of the worst band worth a look: borders found on half of their length
  for (const cv::Mat1f& cue : cues_of(small)) {
    const auto coarse = coarse_from(cue);
    if (!coarse) continue;
    Tried tried = try_cue(bgr, *coarse, scale);
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

cv::Mat1f straighten(const cv::Mat& bgr, const FaceLine& top, const FaceLine& bottom, double from_x, double to_x,
                     int rows, double margin, int columns) {
  const int extra = cvRound(margin * rows);
  double low = 1e9, high = -1e9;
  for (const double y : top.y) low = std::min(low, y);
  for (const double y : bottom.y) high = std::max(high, y);
  const double beyond = margin * (high - low) + 4;
  const int first = std::clamp(cvFloor(low - beyond), 0, bgr.rows - 1);
  const int last = std::clamp(cvCeil(high + beyond), first + 1, bgr.rows);
  cv::Mat grey, out;
  cv::cvtColor(bgr.rowRange(first, last), grey, cv::COLOR_BGR2GRAY);
  cv::Mat1f map_x(rows + 2 * extra, columns), map_y(rows + 2 * extra, columns);
  const double step = (to_x - from_x) / columns;
  for (int c = 0; c < columns; ++c) {
    const double x = from_x + (c + 0.5) * step, a = top.at(x), k = (bottom.at(x) - a) / rows;
    for (int r = 0; r < map_x.rows; ++r) {
      map_x(r, c) = static_cast<float>(x);
      map_y(r, c) = static_cast<float>(a + (r - extra + 0.5) * k - first);
    }
  }
  cv::remap(grey, out, map_x, map_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::Mat1f light;
  out.convertTo(light, CV_32F);
  return light;
}

}  // namespace sheetloupe::plies
