// From pixels to millimetres: one joint robust fit of camera, lens, strips and their nuisances (bow, height, print
// scale), with the sheet's measured sides as extra constraints; and the 95 % figure that follows from it.
#pragma once

#include <array>
#include <functional>
#include <memory>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/markers.h"

namespace sheetloupe {

/// The mapping between a face in the photo and the sheet frame (mm on the face). Immutable, cheap to copy.
class SheetMap {
 public:
  virtual ~SheetMap() = default;
  virtual ImagePoint image_from_sheet(SheetPoint point) const = 0;
  virtual SheetPoint sheet_from_image(ImagePoint point) const = 0;
  /// Where a point `below` mm under the face lies in the photo (the side wall's foot is `thickness` below).
  virtual ImagePoint image_from_sheet_below(SheetPoint point, Mm below) const = 0;
};

enum class ScaleSource { none, strips, strips_and_size, sides };

/// What the shop knows (sheet.json); each optional. u95 in the same unit.
struct LengthStandards {
  std::optional<Measured> thickness_mm;
  std::optional<Measured> strip_length_mm;  // between the end lines
  std::optional<Measured> strip_bar_mm;     // the 140 mm bar; wins over strip_length_mm
  double strip_height_mm = 0.0;
  std::optional<std::array<double, 2>> size_mm;   // top, left
  std::optional<std::array<double, 4>> sides_mm;  // top, right, bottom, left
  std::vector<double> diagonals_mm;               // 0, 1 or 2: first corner 1-3, then 2-4
  double size_u95_mm = 0.6;
};

/// The same lengths as the back photo shows them: turned over about the vertical axis right and left change places,
/// about the horizontal one top and bottom, and the diagonals with them. `size_mm` stays: its left side is taken to be
/// as long as the right one.
LengthStandards seen_from_back(const LengthStandards& front, bool turned_left_right);

/// Millimetres of paper that a nominal millimetre of the strips measures: by the bar, else by the length between the
/// end lines, else 1 with the per cent (u95) by which printers are off.
Measured print_scale(const LengthStandards& standards);

struct ScaleOptions {
  double marker_reject_sigmas = 5.0;  // corners farther off than this are dropped, [3, 10]
  int u95_draws = 400;                // samples of the covariance behind the 95 % figure, [100, 10000]
  unsigned seed = 1;
};

/// What the fit knows of the camera and table before the sheet's own frame is fixed: an arbitrary table frame.
struct Scale {
  ScaleSource source = ScaleSource::none;
  std::string reason;                   // why there is no scale; empty otherwise
  std::vector<std::string> advice;      // what to measure or mend, sentences
  std::shared_ptr<const SheetMap> map;  // null when source is none
  double position_u95_mm = 0.0;         // 95 % figure of the largest position error over the face
  double sigma_px = 0.0;                // corner scatter left after the fit
  std::vector<int> flagged_strips;      // strips that seem to lie higher than told
};

/// Sides are the four outline corners in photo px, clockwise from the datum corner (corner 1, 2, 3, 4).
struct ScaleInput {
  std::vector<Marker> markers;
  cv::Size image_size;          // px
  bool turned_quarter = false;  // sensor rows are columns of the picture
  std::optional<double> focal_35mm_mm;
  LengthStandards standards;
  std::optional<std::array<ImagePoint, 4>> corners_px;  // none: fit the table only, map in an arbitrary frame
  double corner_u95_px = 0.6;                           // of each corner, each axis
  std::vector<ImagePoint> outline_px;  // points along the sides, any order; may be empty. Without strips their
                                       // straightness tells the lens
  std::array<double, 4> side_sd_px{};  // of the ends of each side's line by its own scatter, 1 sigma; 0: not known,
                                       // `corner_u95_px` then holds for each
};

/// Without corners the map's frame is arbitrary on the face plane (used to look for the outline); with corners its
/// origin is the first corner and +x runs to the second.
Scale fit_scale(const ScaleInput& input, const ScaleOptions& options = {});

/// The scale when no strip is in the picture: four sides with one or two diagonals, or size alone with the right angle
/// assumed and the uncertainty grown to match. Source none, with the reason, when neither is given.
Scale scale_from_sides(const ScaleInput& input, const ScaleOptions& options = {});

/// How far the face lies above (below: negative) the one height that a map was made for, at its four corners in the
/// order of the contract; between them it is the twisted plane.
struct CornerRise {
  std::array<double, 4> mm{};
  double width_mm = 0.0, height_mm = 0.0;  // of the sheet, along x and y
};

/// Where the raised face's frame lies on the level map: its start and the direction of +x.
struct FramePose {
  SheetPoint start;
  double cosine = 1.0, sine = 0.0;
};

/// The pose that starts at the first corner and runs to the second, as fit_scale's frame does.
FramePose raised_pose(const SheetMap& level, const CornerRise& rise, const std::array<ImagePoint, 4>& corners_px);

/// The map of a face that is not level because the sheet is thicker at one end. `width_mm` and `height_mm` above 0.
std::shared_ptr<const SheetMap> raised_map(std::shared_ptr<const SheetMap> level, const CornerRise& rise,
                                           const FramePose& pose);

}  // namespace sheetloupe
