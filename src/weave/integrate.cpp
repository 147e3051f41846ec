#include "weave/integrate.h"

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace sheetloupe::weave {

namespace {

// Even, as the transform asks, and a product of small primes: 298 = 2 * 149 takes three times as long as 300.
int padded(int size) { return 2 * cv::getOptimalDFTSize((size + 1) / 2); }

}  // namespace

cv::Mat1f integrate(const cv::Mat1f& gx, const cv::Mat1f& gy) {
  const int rows = padded(gx.rows), cols = padded(gx.cols);
  cv::Mat1f ex, ey;
  cv::copyMakeBorder(gx, ex, 0, rows - gx.rows, 0, cols - gx.cols, cv::BORDER_REPLICATE);
  cv::copyMakeBorder(gy, ey, 0, rows - gx.rows, 0, cols - gx.cols, cv::BORDER_REPLICATE);
  // Differences between neighbours from the mean of their gradients.
  cv::Mat1d divergence(rows, cols, 0.0);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c + 1 < cols; ++c) {
      const double d = 0.5 * (ex(r, c) + ex(r, c + 1));
      divergence(r, c) += d;
      divergence(r, c + 1) -= d;
    }
  }
  for (int r = 0; r + 1 < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const double d = 0.5 * (ey(r, c) + ey(r + 1, c));
      divergence(r, c) += d;
      divergence(r + 1, c) -= d;
    }
  }
  cv::Mat1d spectrum, p;
  cv::dct(divergence, spectrum);
  std::vector<double> across(cols);
  for (int c = 0; c < cols; ++c) across[c] = 2 * std::cos(CV_PI * c / cols) - 2;
  for (int r = 0; r < rows; ++r) {
    const double down = 2 * std::cos(CV_PI * r / rows) - 2;
    for (int c = 0; c < cols; ++c) {
      const double k = down + across[c];
      spectrum(r, c) = r + c == 0 ? 0.0 : spectrum(r, c) / k;
    }
  }
  cv::dct(spectrum, p, cv::DCT_INVERSE);
  cv::Mat1f out;
  p(cv::Rect(0, 0, gx.cols, gx.rows)).convertTo(out, CV_32F);
  return out;
}

}  // namespace sheetloupe::weave
