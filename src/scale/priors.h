// What is believed before a picture speaks: the focal length by EXIF, the print's scale by the user's reading.
#pragma once

#include <string>
#include <vector>

#include "scale/bundle.h"
#include "sheetloupe/scale.h"

namespace sheetloupe::scale {

struct FocalPrior {
  double px, log_sd;
};

FocalPrior focal_prior(const ScaleInput& input);

/// Fills the print scale's mean and standard deviation.
void set_print_prior(const LengthStandards& standards, Priors& priors);

/// Sentences about the camera that the user can act on: no focal length told, an ultra-wide lens, a cropped picture.
std::vector<std::string> advice_on_camera(const ScaleInput& input);

/// Middle of the picture and the way the sensor's rows run.
Frame frame_of(const ScaleInput& input);

}  // namespace sheetloupe::scale
