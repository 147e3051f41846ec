// A photo at the size of a screen.
#pragma once

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::paper {

/// How many photo px in a row make one of the picture: a whole number, so that each of the picture's is the plain mean
/// of its own, which is ten times faster than any other shrinking. The longer side comes to 1300 to 3000 px, 2000 of
/// the usual 4000.
inline int whole_shrink(const cv::Size& photo) {
  return std::max(1, static_cast<int>(std::lround(std::max(photo.width, photo.height) / 2000.0)));
}

/// The last columns and rows that fill no group are left out. Pixels are shared with `photo` where `shrink` is 1.
inline cv::Mat shrunk(const cv::Mat& photo, int shrink) {
  const cv::Size small(std::max(1, photo.cols / shrink), std::max(1, photo.rows / shrink));
  if (shrink == 1 || photo.cols < shrink || photo.rows < shrink) return photo;
  cv::Mat picture;
  cv::resize(photo(cv::Rect({}, small * shrink)), picture, small, 0, 0, cv::INTER_AREA);
  return picture;
}

}  // namespace sheetloupe::paper
