// From what was found on the faces to the usable map in the front frame.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/defects.h"
#include "sheetloupe/usable.h"
#include "sheetloupe/weave.h"

namespace sheetloupe {

/// How the sheet was turned over between the front and the back photo.
enum class Turned { left_right, top_bottom };

/// One face in its own frame. `width` along x, `height` along y, mm.
struct FaceFindings {
  std::string role;  // "front" or "back"
  double width_mm = 0.0;
  double height_mm = 0.0;
  Ring outline;  // hard outline
  DefectAnalysis defects;
  std::vector<WeaveZone> weave_zones;
};

/// A part of the sheet thinner than the rest; mm, front frame.
struct ThinZone {
  Polygon polygon;
  double thickness_mm = 0.0;
};

/// A back point in the front frame: the two faces' outlines share their middle.
SheetPoint front_from_back(SheetPoint back, const FaceFindings& front_face, const FaceFindings& back_face,
                           Turned turned);

/// `faces`: the front first, then the back if there is one. All features in the front frame.
UsableMap build_usable_map(const std::vector<FaceFindings>& faces, Turned turned, double position_u95_mm,
                           const std::string& sheet_id, std::optional<double> thickness_mm,
                           const std::vector<ThinZone>& thin_zones = {});

/// Connected places of one label as polygons that cover every pixel of it whole: they reach half a pixel further.
std::vector<Polygon> polygons_of_label(const cv::Mat& labels, DefectLabel label, double mm_per_px, SheetPoint origin);

/// What is left of the outlines when every place that bars all rings is taken off; thin zones stay, no margin is taken
/// off. Sheet mm, front frame.
std::vector<Polygon> usable_region(const UsableMap& map);

/// The usable region's size.
struct UsableShare {
  double area_mm2 = 0.0;
  double fraction = 0.0;  // of the outline, [0, 1]
};
UsableShare usable_share(const UsableMap& map);

/// What the uncertain sizes of the defects make uncertain of that fraction, u95. What was missed is not in it.
double usable_fraction_u95(const UsableMap& map, const std::vector<DefectAnalysis>& faces);

/// Appends the usable region's parts as features of kind `usable`, for people and drawings: the placer does not read
/// them.
void add_usable_features(UsableMap& map);

}  // namespace sheetloupe
