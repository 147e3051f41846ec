#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "scale/bundle.h"
#include "scale/camera_map.h"
#include "scale/priors.h"
#include "scale/start.h"
#include "scale/uncertainty.h"
#include "sheetloupe/scale.h"

namespace sheetloupe {
namespace {

using namespace scale;

std::vector<Observation> observations_of(const std::vector<Marker>& markers) {
  // One marker alone places a strip poorly and cannot be told from a misread one.
  constexpr int kLeastOfStrip = 2;
  std::array<int, kStripCount> seen{};
  for (const Marker& marker : markers) ++seen[marker.id / kMarkersPerStrip];
  constexpr std::array<double, 4> kSx = {-1, 1, 1, -1}, kSy = {-1, -1, 1, 1};
  std::vector<Observation> list;
  for (const Marker& marker : markers) {
    if (seen[marker.id / kMarkersPerStrip] < kLeastOfStrip) continue;
    const double along = kMarkerCentresMm[marker.id % kMarkersPerStrip] - kStripLengthMm / 2.0;
    for (int i = 0; i < 4; ++i) {
      list.push_back({marker.id / kMarkersPerStrip, marker.id, along, kSx[i], kSy[i], marker.corners[i], true});
    }
  }
  return list;
}

struct SideReading {
  int from, to;
  double length_mm;
};

std::vector<SideReading> readings_of(const LengthStandards& s) {
  std::vector<SideReading> list;
  if (s.sides_mm) {
    for (int i = 0; i < 4; ++i) list.push_back({i, (i + 1) % 4, (*s.sides_mm)[i]});
  } else if (s.size_mm) {
    list = {{0, 1, (*s.size_mm)[0]}, {0, 3, (*s.size_mm)[1]}};
  }
  for (std::size_t i = 0; i < s.diagonals_mm.size() && i < 2; ++i) {
    list.push_back({static_cast<int>(i), static_cast<int>(i) + 2, s.diagonals_mm[i]});
  }
  return list;
}

BundleInput bundle_input(const ScaleInput& input) {
  BundleInput bundle;
  bundle.frame = frame_of(input);
  bundle.strip_height_mm = input.standards.strip_height_mm;
  bundle.observations = observations_of(input.markers);
  const FocalPrior focal = focal_prior(input);
  bundle.priors.log_f_mean = std::log(focal.px);
  bundle.priors.log_f = focal.log_sd;
  set_print_prior(input.standards, bundle.priors);
  const Measured thickness = input.standards.thickness_mm.value_or(Measured{6.0, 3.0});
  bundle.priors.thickness_mean = thickness.value;
  bundle.priors.thickness = std::max(thickness.u95, 0.02) / 1.96;
  return bundle;
}

double length_on_face(const Unknowns& u, const Frame& frame, ImagePoint a, ImagePoint b) {
  const auto p = back_project(u.camera.data(), frame, a.x, a.y, u.thickness);
  const auto q = back_project(u.camera.data(), frame, b.x, b.y, u.thickness);
  return std::hypot(p.x - q.x, p.y - q.y);
}

// A strip that lies higher than told: the fit is repeated with its height and lift free; a large gain in chi2 with a
// plausible height names it. Free heights below the table are not plausible.
std::vector<int> high_strips(const BundleInput& bundle, const Fit& plain, Fit* better) {
  constexpr double kFreeSd = 10.0, kChi2Drop = 25.0, kLeastHeight = 0.8, kLowest = -0.5;
  std::vector<int> flagged;
  double best = plain.chi2;
  for (const int k : plain.unknowns.strips) {
    if (plain.unknowns.strips.size() < 2) break;
    BundleInput trial = bundle;
    trial.priors.height[k] = kFreeSd;
    trial.priors.lift[k] = kFreeSd;
    const Fit fit = fit_bundle(trial, plain.unknowns, 5.0, plain.sigma_px);
    const double height = fit.unknowns.strip[k][kHeight];
    if (!fit.converged || plain.chi2 - fit.chi2 < kChi2Drop || height < kLowest || height < kLeastHeight) continue;
    if (fit.chi2 < best) {
      best = fit.chi2;
      *better = fit;
      flagged = {k};
    }
  }
  return flagged;
}

std::string one_decimal(double value) {
  const long tenths = std::lround(value * 10);
  return std::to_string(tenths / 10) + "." + std::to_string(std::abs(tenths % 10));
}

void advise_on_standards(const LengthStandards& s, Scale& scale) {
  if (!s.strip_bar_mm && !s.strip_length_mm && !s.size_mm && !s.sides_mm) {
    scale.advice.push_back(
        "The print's own scale was not measured, so every length may be 1 % off. Measure two sides of the sheet "
        "(size_mm), or the 140 mm bar on a strip by caliper (strip_bar_mm), and write it in sheet.json.");
  }
  if (!s.thickness_mm) {
    scale.advice.push_back(
        "The sheet's thickness is not known and was taken as 6 +- 3 mm. Measure it and write "
        "thickness_mm in sheet.json.");
  }
}

// Readings that disagree with the photo by more than three predicted standard deviations are not used: a wrong corner
// or a slip of the pen would bend the whole map.
void add_sides(const ScaleInput& input, const Fit& without, BundleInput& bundle, Scale& scale) {
  const double reading_sd = std::max(input.standards.size_u95_mm, 0.02) / 1.96;
  const double corner_sd_px = input.corner_u95_px / 1.96;
  for (const SideReading& r : readings_of(input.standards)) {
    const ImagePoint a = (*input.corners_px)[r.from], b = (*input.corners_px)[r.to];
    const double seen = length_on_face(without.unknowns, bundle.frame, a, b);
    const double corner_sd = std::sqrt(2.0) * corner_sd_px * seen / distance_px(a, b);
    const double photo_sd = std::hypot(length_sd_mm(without, bundle.frame, a, b), corner_sd);
    if (std::abs(seen - r.length_mm) > 3.0 * std::hypot(reading_sd, photo_sd)) {
      scale.advice.push_back("A measured length of " + one_decimal(r.length_mm) +
                             " mm does not fit the photo, which shows " + one_decimal(seen) +
                             " mm there, and was left out. Measure it again, and check that no strip was moved.");
      continue;
    }
    bundle.sides.push_back({a, b, r.length_mm, reading_sd, corner_sd_px});
  }
}

// Names strips that lie higher than told and fits again with their heights free.
void settle_strips(const ScaleOptions& options, BundleInput& bundle, Fit& fit, Scale& scale) {
  constexpr double kFreeSdMm = 10.0;
  Fit better;
  scale.flagged_strips = high_strips(bundle, fit, &better);
  if (scale.flagged_strips.empty()) return;
  for (const int k : scale.flagged_strips) {
    scale.advice.push_back("It seems that strip " + std::to_string(k) + " lies " +
                           one_decimal(better.unknowns.strip[k][kHeight]) +
                           " mm higher than the others. Lay every strip on the table itself, taped flat.");
    bundle.priors.height[k] = bundle.priors.lift[k] = kFreeSdMm;
  }
  // From scratch: corners that the wrong model threw out and its large scatter must not stay.
  for (Observation& o : bundle.observations) o.used = true;
  const Fit again = fit_bundle(bundle, better.unknowns, options.marker_reject_sigmas);
  fit = again.converged ? again : better;
}

// With the sheet's corners known: strips judged, measured sides taken in, and the 95 % figure.
void settle_on_sheet(const ScaleInput& input, const ScaleOptions& options, BundleInput& bundle, Fit& fit,
                     Scale& scale) {
  settle_strips(options, bundle, fit, scale);
  add_sides(input, fit, bundle, scale);
  if (!bundle.sides.empty()) {
    const Fit with_sides = fit_bundle(bundle, fit.unknowns, options.marker_reject_sigmas, fit.sigma_px);
    if (with_sides.converged) {
      fit = with_sides;
      scale.source = ScaleSource::strips_and_size;
    }
  }
  scale.position_u95_mm = position_u95_mm(fit, bundle.frame, *input.corners_px, options.u95_draws, options.seed);
}

Scale no_scale(const std::string& reason) {
  Scale scale;
  scale.reason = reason;
  return scale;
}

}  // namespace

Scale fit_scale(const ScaleInput& input, const ScaleOptions& options) {
  // A marker alone fixes a plane poorly: one whole strip, or two, are asked for.
  constexpr std::size_t kLeastMarkers = 3;
  if (input.markers.size() < kLeastMarkers) {
    return no_scale(input.markers.empty()
                        ? "No printed strip is in the picture. Lay the strips around the sheet, or measure its four "
                          "sides and a diagonal (sides_mm, diagonals_mm in sheet.json)."
                        : "Too few strip markers are readable: " + std::to_string(input.markers.size()) +
                              " of 20. Photograph again with all four strips whole, flat and without glare.");
  }
  BundleInput bundle = bundle_input(input);
  const auto start = guess(bundle, std::exp(bundle.priors.log_f_mean));
  if (!start) return no_scale("The strips could not be brought onto one plane. Tape both ends of each strip flat.");
  Fit fit = fit_bundle(bundle, *start, options.marker_reject_sigmas);
  if (!fit.converged) return no_scale("The strips do not fit one camera. Tape them flat and photograph again.");
  Scale scale;
  scale.source = ScaleSource::strips;
  scale.advice = advice_on_camera(input);
  advise_on_standards(input.standards, scale);
  if (fit.unknowns.strips.size() < 2) {
    scale.advice.emplace_back(
        "Only one strip is readable, which tells the tilt of the photo poorly. Lay all four around the sheet, whole "
        "and flat in the picture.");
  }
  if (input.corners_px) settle_on_sheet(input, options, bundle, fit, scale);
  scale.sigma_px = fit.sigma_px;
  // Edge-fitted corners scatter 0.03 to 0.1 px; beyond 0.6 px the model does not describe the scene.
  if (fit.sigma_px > 0.6) {
    return no_scale("The strips do not lie as printed: their markers are off by " +
                    std::to_string(fit.sigma_px).substr(0, 4) +
                    " px. Tape them flat, keep all on one table, and "
                    "photograph again.");
  }
  if (fit.sigma_px > 0.25) {
    scale.advice.push_back(
        "The strips' markers scatter more than they should. Tape both ends of each strip flat and "
        "hold the phone still.");
  }
  scale.map = map_of(fit, bundle.frame, input.corners_px);
  return scale;
}

}  // namespace sheetloupe
