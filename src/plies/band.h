// Where the cut edge lies in the photo: its two face lines, and how far they can be trusted.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

namespace sheetloupe::plies {

/// One long border of the band: its row at evenly spaced columns of the photo.
struct FaceLine {
  double first_x = 0.0, step = 1.0;
  std::vector<double> y;  // px, left to right
  double cover = 0.0;     // share of places where the border was found on the line, [0, 1]
  double rms_px = 0.0;    // of those places about the line
  double at(double x) const;
};

struct Band {
  bool found = false;
  std::string reason;  // when not found
  double from_x = 0.0, to_x = 0.0;
  FaceLine top, bottom;
  double slope = 0.0;      // of the middle line, dy/dx
  double height_px = 0.0;  // mean, square to the edge
};

/// `bgr`: CV_8UC3, the edge running across the picture within some 20 degrees.
Band find_band(const cv::Mat& bgr);

/// Raster of a straightened band: as many rows and columns as the photo has, up to what tells no more of 40 plies.
int shown_rows(const Band& band);
int shown_columns(const Band& band);
/// Of the band's height, shown above and below it where a visible face is looked for.
inline constexpr double kFaceMargin = 0.15;

/// The photo's rows round the band in grey, so that the band can be straightened several times.
struct GreyRows {
  cv::Mat1b grey;
  int first = 0;  // row of the photo
};
GreyRows grey_rows(const cv::Mat& bgr, const Band& band);

/// The grey band between two lines, `rows` high from line to line and `margin` times as much of its surroundings above
/// and below; `columns` spread from `from_x` to `to_x`.
cv::Mat1f straighten(const GreyRows& photo, const Band& band, int rows, double margin, int columns);

}  // namespace sheetloupe::plies
