#include "outline/look.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <utility>
#include <vector>

#include "sheetloupe/wide.h"

namespace sheetloupe::outline {
namespace {

constexpr int kFineSize = 840;  // longer side of the picture in which roughness is seen: tows are 3 px and more
constexpr int kCell = 4;        // fine px a cell

// Log brightness of the green channel and the logarithms of red and blue over green.
cv::Mat3f log_colours(const cv::Mat& small) {
  // The offset keeps dark pixels' noise from counting more than it says.
  constexpr float kOffset = 8.0F;
  std::array<float, 256> logarithm{};
  for (int i = 0; i < 256; ++i) logarithm[i] = std::log(static_cast<float>(i) + kOffset);
  cv::Mat3f out(small.size());
  for (int r = 0; r < small.rows; ++r) {
    const auto* from = small.ptr<cv::Vec3b>(r);
    cv::Vec3f* to = out[r];
    for (int c = 0; c < small.cols; ++c) {
      const float green = logarithm[from[c][1]];
      to[c] = {green, logarithm[from[c][2]] - green, logarithm[from[c][0]] - green};
    }
  }
  return out;
}

// A source row or column and its share in one of the shrunk picture.
struct Share {
  int from;
  float part;
};

// For each of `to` equal parts of `from` px, which px it covers and how much of it each one makes up.
std::vector<std::vector<Share>> shares_of(int from, int to) {
  constexpr double kNothing = 1e-3;
  const double scale = static_cast<double>(from) / to;
  std::vector<std::vector<Share>> parts(to);
  for (int i = 0; i < to; ++i) {
    const double low = i * scale, high = std::min(low + scale, static_cast<double>(from));
    for (int at = static_cast<int>(low); at < high; ++at) {
      const double covered = std::min(high, at + 1.0) - std::max(low, static_cast<double>(at));
      if (covered > kNothing) parts[i].push_back({at, static_cast<float>(covered / (high - low))});
    }
  }
  return parts;
}

SHEETLOUPE_WIDE void add_row(const unsigned char* row, int count, float part, float* sums) {
  for (int i = 0; i < count; ++i) sums[i] += part * static_cast<float>(row[i]);
}

// Means over areas, as cv::resize's INTER_AREA gives them, which adds up along rows first, value by value; here whole
// rows are added first. Three times as fast.
cv::Mat shrunk_to(const cv::Mat& bgr, const cv::Size& size) {
  const auto rows = shares_of(bgr.rows, size.height), columns = shares_of(bgr.cols, size.width);
  cv::Mat out(size, CV_8UC3);
  std::vector<float> sums(static_cast<std::size_t>(bgr.cols) * 3);
  for (int r = 0; r < size.height; ++r) {
    std::fill(sums.begin(), sums.end(), 0.0F);
    for (const Share& row : rows[r]) add_row(bgr.ptr(row.from), bgr.cols * 3, row.part, sums.data());
    auto* to = out.ptr<cv::Vec3b>(r);
    for (int c = 0; c < size.width; ++c) {
      float blue = 0, green = 0, red = 0;
      for (const Share& column : columns[c]) {
        const float* from = &sums[static_cast<std::size_t>(column.from) * 3];
        blue += column.part * from[0];
        green += column.part * from[1];
        red += column.part * from[2];
      }
      to[c] = {cv::saturate_cast<unsigned char>(blue), cv::saturate_cast<unsigned char>(green),
               cv::saturate_cast<unsigned char>(red)};
    }
  }
  return out;
}

double squared(const Look& look, const LookModel& model) {
  const Look d = look - model.mean;
  return d.dot(model.inverse * d);
}

LookModel fitted(const std::vector<Look>& looks, float shade) {
  LookModel model;
  for (const Look& look : looks) model.mean += look;
  model.mean *= 1.0F / static_cast<float>(looks.size());
  cv::Matx<float, kFeatures, kFeatures> covariance = cv::Matx<float, kFeatures, kFeatures>::zeros();
  for (const Look& look : looks) {
    const Look d = look - model.mean;
    covariance += d * d.t();
  }
  covariance *= 1.0F / static_cast<float>(looks.size());
  // Nothing in a photo is uniform to better than this: slow changes of light and of the camera's own processing.
  constexpr std::array<float, kFeatures> kLeastSigma = {0.08F, 0.03F, 0.03F, 0.15F};
  for (int i = 0; i < kFeatures; ++i) covariance(i, i) += kLeastSigma[i] * kLeastSigma[i];
  covariance(0, 0) += shade * shade;
  model.inverse = covariance.inv(cv::DECOMP_CHOLESKY);
  model.log_scale = 0.5F * static_cast<float>(std::log(std::max(cv::determinant(covariance), 1e-30)));
  model.usable = true;
  return model;
}

}  // namespace

LookMap look_at(const cv::Mat& bgr) {
  LookMap look;
  const double shrink = std::min(1.0, static_cast<double>(kFineSize) / std::max(bgr.cols, bgr.rows));
  const cv::Size cells(std::max(1, cvRound(bgr.cols * shrink / kCell)),
                       std::max(1, cvRound(bgr.rows * shrink / kCell)));
  look.cell_px = static_cast<double>(bgr.cols) / cells.width;
  const cv::Mat3f colours = log_colours(shrunk_to(bgr, cells * kCell));
  cv::Mat light, slow, square, rough;
  cv::extractChannel(colours, light, 0);
  cv::blur(light, slow, {7, 7});
  cv::subtract(light, slow, square);
  cv::multiply(square, square, square);
  cv::resize(square, rough, cells, 0, 0, cv::INTER_AREA);
  cv::blur(rough, rough, {3, 3});
  cv::Mat3f mean;
  cv::resize(colours, mean, cells, 0, 0, cv::INTER_AREA);
  look.cells.create(cells);
  for (int r = 0; r < cells.height; ++r) {
    for (int c = 0; c < cells.width; ++c) {
      const cv::Vec3f& m = mean(r, c);
      // One per cent of contrast is below the sensor's noise: nothing is smoother than that.
      look.cells(r, c) = {m[0], m[1], m[2], 0.5F * std::log(rough.at<float>(r, c) + 1e-4F)};
    }
  }
  return look;
}

LookModel model_of(const LookMap& look, const cv::Mat& mask, float shade) {
  std::vector<Look> looks;
  for (int r = 0; r < mask.rows; ++r) {
    for (int c = 0; c < mask.cols; ++c) {
      if (mask.at<unsigned char>(r, c)) looks.push_back(look.cells(r, c));
    }
  }
  constexpr std::size_t kFewest = 40;  // ten for each feature
  LookModel model;
  if (looks.size() < kFewest) return model;
  model = fitted(looks, 0.0F);
  // Twice, a tenth that lies farthest off is left out: things on the table, glare on the sheet.
  for (int round = 0; round < 2; ++round) {
    std::vector<std::pair<double, std::size_t>> order(looks.size());
    for (std::size_t i = 0; i < looks.size(); ++i) order[i] = {squared(looks[i], model), i};
    const std::size_t keep = looks.size() * 9 / 10;
    std::nth_element(order.begin(), order.begin() + static_cast<std::ptrdiff_t>(keep), order.end());
    std::vector<Look> kept(keep);
    for (std::size_t i = 0; i < keep; ++i) kept[i] = looks[order[i].second];
    looks = std::move(kept);
    model = fitted(looks, round == 1 ? shade : 0.0F);
  }
  return model;
}

cv::Mat1f squared_distance(const LookMap& look, const LookModel& model) {
  cv::Mat1f out(look.cells.size());
  for (int r = 0; r < out.rows; ++r) {
    for (int c = 0; c < out.cols; ++c) out(r, c) = static_cast<float>(squared(look.cells(r, c), model));
  }
  return out;
}

}  // namespace sheetloupe::outline
