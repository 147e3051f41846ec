// A decoded photo, and what can be said of its quality before anything is measured.
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"

namespace sheetloupe {

/// A photo as measured on: CV_8UC3, BGR, photo frame (EXIF orientation already applied, once).
struct Photo {
  cv::Mat bgr;
  std::string file;                     // name only, without folders
  std::string sha256;                   // of the file's bytes, lower-case hex
  std::optional<double> focal_35mm_mm;  // EXIF 35-mm-equivalent focal length; none when missing or absurd
  std::optional<std::string> taken;     // EXIF date and time, "2026-03-02T14:05:00"
  bool turned_quarter = false;          // orientation swapped width and height (rows of the sensor are columns here)
};

/// B, G, R from which a pixel counts as blown out, [0, 255], where nothing else is known: JPEG and a photo's noise
/// leave a blown-out place up to 5 below 255 (from memory).
inline const cv::Vec3d kBlownUsually{250, 250, 250};

struct PhotoCheckOptions {
  cv::Vec3d blown = kBlownUsually;  // see blown_levels
  double crushed_level = 3.0;       // grey level up to which a pixel counts as crushed, [0, 255]
};

/// Quality where the sheet is.
struct PhotoCheck {
  double mm_per_px = 0.0;           // coarsest on the face; 0 when no scale is known
  double blur_sigma_px = 0.0;       // Gaussian-equivalent blur of the sharpest edges found; 0 when none could be read
  double blown_fraction = 0.0;      // of the face, [0, 1]
  double crushed_fraction = 0.0;    // of the face, [0, 1]
  std::vector<std::string> advice;  // sentences a person can act on; empty when the photo is fine
};

/// `face`: CV_8UC1, photo frame, 255 on the sheet's face; `mm_per_px` 0 when unknown. Changes neither picture.
PhotoCheck check_photo(const Photo& photo, const cv::Mat& face, double mm_per_px,
                       const PhotoCheckOptions& options = {});

/// B, G, R from which a pixel of the face counts as blown out, [0, 255]. A lamp's reflection ends at 255, and where the
/// photo was made darker or toned afterwards, as phones do, below it: then at the face's highest level, where pixels
/// pile up. Carbon, wet or dry, and resin are darker than `paper` (B, G, R), so what is as bright is lamp light;
/// nothing but 255 is sure where nothing is as bright, or the paper's level is not known. `bgr`: CV_8UC3; `face`:
/// CV_8UC1 of the same size, 255 on the face.
cv::Vec3d blown_levels(const cv::Mat& bgr, const cv::Mat& face, const std::optional<cv::Vec3d>& paper);

/// Means of `factor` x `factor` pixels, rounded: a fifth of the time of shrinking by a factor that is not whole.
/// `picture`: 8 bits a channel; `factor` 1 to 256, with 1 the same pixels. What fills no group at the right and the
/// bottom is left out.
cv::Mat shrunk(const cv::Mat& picture, int factor);

}  // namespace sheetloupe
