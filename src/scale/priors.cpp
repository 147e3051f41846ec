#include "scale/priors.h"

#include <algorithm>
#include <cmath>

namespace sheetloupe::scale {
namespace {

// A photo without EXIF is taken to come from a phone's main camera.
constexpr double kUsualFocal35Mm = 26.0;

// A shape other than a whole sensor's (4:3, 3:2) means that the picture was cropped or is a video frame.
bool whole_sensor(const ScaleInput& input) {
  const double w = input.image_size.width, h = input.image_size.height, ratio = std::max(w, h) / std::min(w, h);
  return std::abs(ratio - 4.0 / 3.0) < 0.02 || std::abs(ratio - 1.5) < 0.02;
}

}  // namespace

// The 35-mm-equivalent figure is given by the diagonal (43.27 mm) or by the width (36 mm): 4 % apart on a 4:3 sensor,
// so the middle is taken; it is rounded to whole mm, and focusing close stretches the lens by about a per cent.
FocalPrior focal_prior(const ScaleInput& input) {
  const double w = input.image_size.width, h = input.image_size.height;
  const double by_diagonal = std::hypot(w, h) / 43.2666, by_width = std::max(w, h) / 36.0;
  const double per_mm = std::sqrt(by_diagonal * by_width);
  if (!input.focal_35mm_mm) return {kUsualFocal35Mm * per_mm, 0.2};
  return {*input.focal_35mm_mm * per_mm, whole_sensor(input) ? 0.03 : 0.2};
}

std::vector<std::string> advice_on_camera(const ScaleInput& input) {
  // Main cameras of phones lie at 23 to 28 mm, ultra-wide ones at 12 to 16 mm; the latter bend lines by far more than
  // the lens priors allow.
  constexpr double kUltraWideMm = 20.0;
  std::vector<std::string> advice;
  if (!input.focal_35mm_mm) {
    advice.emplace_back(
        "The photo does not tell its focal length (EXIF was removed), so the figures are less sure. Copy the original "
        "file from the phone.");
  } else if (*input.focal_35mm_mm < kUltraWideMm) {
    advice.emplace_back("The photo was taken with an ultra-wide lens. Use the phone's main camera (1x).");
  }
  if (!whole_sensor(input)) {
    advice.emplace_back("The photo seems to be cropped. Use the whole picture as the phone took it.");
  }
  return advice;
}

// Standard deviations behind the user's readings.
void set_print_prior(const LengthStandards& standards, Priors& priors) {
  const Measured print = print_scale(standards);
  priors.log_print_mean = std::log(print.value);
  priors.log_print = print.u95 / 1.96;
}

Frame frame_of(const ScaleInput& input) {
  return {(input.image_size.width - 1) / 2.0, (input.image_size.height - 1) / 2.0, input.turned_quarter};
}

}  // namespace sheetloupe::scale

namespace sheetloupe {

// A rule is read to +-0.3 mm at 95 %; nothing read: printers are off by up to a per cent (u95).
Measured print_scale(const LengthStandards& standards) {
  if (const auto& bar = standards.strip_bar_mm) return {bar->value / kStripBarMm, bar->u95 / kStripBarMm};
  if (const auto& length = standards.strip_length_mm)
    return {length->value / kStripLengthMm, length->u95 / kStripLengthMm};
  return {1.0, 0.01};
}

}  // namespace sheetloupe
