// The joint fit: all unknowns, their priors, the solution and its covariance.
#pragma once

#include <Eigen/Core>
#include <array>
#include <optional>
#include <vector>

#include "scale/camera_model.h"
#include "sheetloupe/scale.h"

namespace sheetloupe::scale {

inline constexpr int kMarkerCount = kStripCount * kMarkersPerStrip;

/// One printed corner seen in the photo.
struct Observation {
  int strip = 0;
  int marker_id = 0;
  double centre_along = 0.0, sx = 0.0, sy = 0.0;
  ImagePoint seen;
  bool used = true;
};

/// Everything estimated, in the order of the covariance: camera, print, tau, thickness, then the strips present.
struct Unknowns {
  std::array<double, kCameraSize> camera{};
  std::array<double, kPrintSize> print{};
  double tau = 0.0;
  double thickness = 6.0;
  std::vector<int> strips;  // indices of the strips present
  std::array<std::array<double, kStripSize>, kStripCount> strip{};
  std::array<std::array<double, 2>, kMarkerCount> growth{};  // of each marker; not in the covariance: it moves no face

  int size() const { return kCameraSize + kPrintSize + 2 + kStripSize * static_cast<int>(strips.size()); }
  double* at(int index);
};

/// Standard deviations of the priors (1 sigma); the means are 0 unless said. The lens figures are what phone cameras
/// leave after their own correction. All are assumptions, none is measured: the published 95 % figure holds for them.
struct Priors {
  double log_f_mean = 0.0, log_f = 0.03;
  double k1 = 0.02, k2 = 0.02, decentering = 5e-4;
  double principal_px = 25.0;  // the middle moves with optical stabilisation
  double shutter = 4e-4;       // shear and stretch: some 0.15 mm of hand motion while the sensor is read
  double log_print_mean = 0.0, log_print = 0.006;
  double anisotropy = 0.005;  // across the print against along it
  double bias_mm = 0.3;       // ink, blur and tone move a corner outward
  // Blur and tone shrink a marker by a different amount in brighter and darker places, always evenly about its centre:
  // on rendered photos one marker's sides lie 0.02 to 0.15 px (worst 0.37) from the common bias while opposite sides
  // agree to 0.01 px.
  double growth_px = 0.15;
  double table_bow_mm = 0.15;  // at 250 mm
  double thickness_mean = 6.0, thickness = 0.05;
  // Taped paper lies a tenth of a millimetre up and bows a little. Height and lift widen for a strip under suspicion.
  double height_mean_mm = 0.08, bow_mean_mm = 0.2, bow_mm = 0.5;
  std::array<double, kStripCount> height = {0.12, 0.12, 0.12, 0.12};
  std::array<double, kStripCount> lift = {0.12, 0.12, 0.12, 0.12};
};

/// A measured distance between two outline corners on the face.
struct SideConstraint {
  ImagePoint a, b;
  double length_mm = 0.0;
  double sd_mm = 0.3;         // of the reading, 1 sigma
  double corner_sd_px = 0.3;  // of each corner
};

struct Fit {
  bool converged = false;
  Unknowns unknowns;
  double sigma_px = 0.0;       // scatter of the corners about the fit
  double chi2 = 0.0;           // at sigma_px
  Eigen::MatrixXd covariance;  // of the unknowns, in their order
};

struct BundleInput {
  Frame frame;
  double strip_height_mm = 0.0;
  Priors priors;
  std::vector<Observation> observations;
  std::vector<SideConstraint> sides;
};

/// The sheet alone, without strips: its corners on the face plane are unknowns beside the camera.
struct QuadInput {
  /// A length read between two corners, or implied; `sd_mm` 1 sigma.
  struct Reading {
    int from = 0, to = 1;
    double mm = 0.0, sd_mm = 0.3;
  };
  Frame frame;
  Priors priors;  // of these only the focal length
  std::array<ImagePoint, 4> corners_px{};
  double corner_sd_px = 0.3;                       // of each corner, each axis
  std::array<std::vector<ImagePoint>, 4> side_px;  // points along side i (corner i to i+1); empty: the corners speak
  std::array<double, 4> side_sd_px = {0.3, 0.3, 0.3, 0.3};  // of the line's ends by the points' scatter
  double side_shift_sd_px = 0.0;                            // by which a whole side may lie beside its points
  std::vector<Reading> readings;
  double square_sd = 0.0;    // rad, of the first corner from a right angle; 0: no right angle is assumed
  double parallel_sd = 0.0;  // mm, by which opposite sides differ in each axis; 0: not assumed
};

/// `start`: camera only. The face lies at height 0; the covariance is the camera's, then zeros. `chi2` is that of the
/// readings and the camera's priors, which have about three degrees of freedom when sides and a diagonal were read.
Fit fit_quad(const QuadInput& input, const Unknowns& start);

/// Robust rounds first (Cauchy), then corners beyond `reject_sigmas` dropped, then the plain fit and its covariance.
/// `fixed_sigma_px` > 0 skips the robust part and weights by it.
Fit fit_bundle(BundleInput& input, const Unknowns& start, double reject_sigmas, double fixed_sigma_px = 0.0);

}  // namespace sheetloupe::scale
