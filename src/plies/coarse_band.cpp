#include "plies/coarse_band.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "sheetloupe/median.h"
#include "sheetloupe/photo.h"

namespace sheetloupe::plies {
namespace {

// The coarse search needs no more: a band of 12 plies is then some 60 px high.
constexpr int kCoarseWidth = 640;
// Share of the picture's rows at the top and at the bottom that is taken to show nothing but the ground.
constexpr double kGroundShare = 0.06;

// The ground's model 1, x, y, x^2, with x and y from -1 to 1 over the picture.
struct GroundBasis {
  std::vector<double> x, y;
  explicit GroundBasis(cv::Size size) {
    for (int c = 0; c < size.width; ++c) x.push_back(2.0 * c / size.width - 1);
    for (int r = 0; r < size.height; ++r) y.push_back(2.0 * r / size.height - 1);
  }
  cv::Vec4d at(int r, int c) const { return {1, x[c], y[r], x[c] * x[c]}; }
};

// Each channel of the ground, fitted to the border rows with falling weights for what does not fit (Holland and Welsch
// 1977, Cauchy weights); then every place's distance from it in scatters.
cv::Mat1f ground_distance(const cv::Mat3f& lab) {
  const int rows = lab.rows, cols = lab.cols, strip = std::max(3, cvRound(kGroundShare * rows));
  cv::Mat1f distance = cv::Mat1f::zeros(lab.size());
  const GroundBasis basis(lab.size());
  for (int channel = 0; channel < 3; ++channel) {
    cv::Vec4d fit(0, 0, 0, 0);
    double scale = 1e9;
    for (int pass = 0; pass < 5; ++pass) {
      cv::Matx44d normal = cv::Matx44d::zeros();
      cv::Vec4d right(0, 0, 0, 0);
      std::vector<float> off;
      for (int r = 0; r < rows; r += (r == strip - 1 ? rows - 2 * strip + 1 : 1)) {
        for (int c = 0; c < cols; c += 4) {
          const cv::Vec4d b = basis.at(r, c);
          const double v = lab(r, c)[channel], e = v - fit.dot(b), q = e / (2.4 * scale), w = 1 / (1 + q * q);
          off.push_back(static_cast<float>(std::abs(e)));
          for (int i = 0; i < 4; ++i) {
            const double wb = w * b[i];
            for (int k = 0; k <= i; ++k) normal(i, k) += wb * b[k];
            right[i] += wb * v;
          }
        }
      }
      for (int i = 0; i < 4; ++i) {
        for (int k = i + 1; k < 4; ++k) normal(i, k) = normal(k, i);
      }
      if (pass > 0) scale = std::max(0.4, 1.4826 * median(off));
      cv::solve(normal, right, fit, cv::DECOMP_SVD);
    }
    std::vector<double> by_column(cols);
    for (int c = 0; c < cols; ++c) by_column[c] = fit[0] + fit[1] * basis.x[c] + fit[3] * basis.x[c] * basis.x[c];
    for (int r = 0; r < rows; ++r) {
      const cv::Vec3f* from = lab[r];
      float* to = distance[r];
      const double by_row = fit[2] * basis.y[r];
      for (int c = 0; c < cols; ++c) {
        const double d = (from[c][channel] - by_column[c] - by_row) / scale;
        to[c] += static_cast<float>(d * d);
      }
    }
  }
  cv::sqrt(distance, distance);
  return distance;
}

// Cues scaled to 0..255 between ground and band, so that one threshold finder serves them all.
cv::Mat1b scaled(const cv::Mat1f& cue) {
  std::vector<float> values;
  for (int r = 0; r < cue.rows; r += 2) {
    for (int c = 0; c < cue.cols; c += 2) values.push_back(cue(r, c));
  }
  const auto high = values.begin() + static_cast<std::ptrdiff_t>(0.97 * static_cast<double>(values.size()));
  std::nth_element(values.begin(), high, values.end());
  cv::Mat1b out;
  cue.convertTo(out, CV_8U, 255.0 / std::max(1e-6F, *high));
  return out;
}

std::optional<CoarseBand> coarse_from(const cv::Mat1f& cue) {
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
  CoarseBand coarse;
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

// CIE L*a*b* of sRGB, D65 (IEC 61966-2-1; CIE 15:2004, 8.2.1). OpenCV's own conversion first builds tables for
// 0.15 s, longer than all edges of a sheet take here.
cv::Mat3f lab_of(const cv::Mat3b& bgr) {
  std::array<float, 256> linear{};
  for (std::size_t i = 0; i < linear.size(); ++i) {
    const double v = static_cast<double>(i) / 255;
    linear[i] = static_cast<float>(v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4));
  }
  // The root between 4096 places of [0, 1]: good to 0.0006 of L*, and three roots a pixel are not taken.
  constexpr int kSteps = 4096;
  std::array<float, kSteps + 2> roots{};
  for (int i = 0; i < kSteps + 2; ++i) {
    const double t = static_cast<double>(i) / kSteps;
    roots[static_cast<std::size_t>(i)] = static_cast<float>(t > 0.008856 ? std::cbrt(t) : 7.787 * t + 16.0 / 116);
  }
  const auto root = [&roots](float t) {
    const float place = std::clamp(t, 0.F, 1.F) * kSteps;
    const auto i = static_cast<std::size_t>(place);
    return roots[i] + (place - static_cast<float>(i)) * (roots[i + 1] - roots[i]);
  };
  cv::Mat3f lab(bgr.size());
  for (int r = 0; r < bgr.rows; ++r) {
    const cv::Vec3b* from = bgr[r];
    cv::Vec3f* to = lab[r];
    for (int c = 0; c < bgr.cols; ++c) {
      const float red = linear[from[c][2]], green = linear[from[c][1]], blue = linear[from[c][0]];
      const float x = root((0.412453F * red + 0.357580F * green + 0.180423F * blue) / 0.950456F),
                  y = root(0.212671F * red + 0.715160F * green + 0.072169F * blue),
                  z = root((0.019334F * red + 0.119193F * green + 0.950227F * blue) / 1.088754F);
      to[c] = {116.F * y - 16.F, 500.F * (x - y), 200.F * (y - z)};
    }
  }
  return lab;
}

std::vector<cv::Mat1f> cues_of(const cv::Mat3b& small) {
  const cv::Mat3f lab = lab_of(small);
  cv::Mat grey;
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

// Bands whose borders lie this near each other end in the same place, to a few hundredths of a px on 22 edges: the
// close look's first step reaches a quarter of the height to both sides.
bool alike(const CoarseBand& a, const CoarseBand& b) {
  constexpr double kShareOfHeight = 0.15;
  constexpr int kEndsPx = 4;
  if (std::abs(a.from - b.from) > kEndsPx || std::abs(a.to - b.to) > kEndsPx) return false;
  const double middle = 0.5 * (a.from + a.to), least = kShareOfHeight * (a.bottom.at(middle) - a.top.at(middle));
  const auto apart = [&](double x) {
    return std::max(std::abs(a.top.at(x) - b.top.at(x)), std::abs(a.bottom.at(x) - b.bottom.at(x)));
  };
  return apart(a.from) < least && apart(a.to) < least;
}

}  // namespace

CoarseBands find_coarse_bands(const cv::Mat& bgr) {
  CoarseBands found;
  found.scale = std::max(1.0, static_cast<double>(bgr.cols) / kCoarseWidth);
  cv::Mat small;
  // A whole factor where the photo is large, because shrinking by it takes a fifth of the time.
  if (found.scale >= 4) {
    found.scale = cvRound(found.scale);
    small = shrunk(bgr, cvRound(found.scale));
  } else {
    cv::resize(bgr, small, {cvRound(bgr.cols / found.scale), cvRound(bgr.rows / found.scale)}, 0, 0, cv::INTER_AREA);
  }
  for (const cv::Mat1f& cue : cues_of(small)) {
    const auto band = coarse_from(cue);
    if (!band) continue;
    const bool known = std::any_of(found.bands.begin(), found.bands.end(),
                                   [&](const CoarseBand& other) { return alike(other, *band); });
    if (!known) found.bands.push_back(*band);
  }
  return found;
}

}  // namespace sheetloupe::plies
