// The whole pipeline: photos and what the shop knows in, everything measured out. The only place that knows the order
// of the stages.
#pragma once

#include <array>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sheetloupe/defects.h"
#include "sheetloupe/fabric.h"
#include "sheetloupe/laminate.h"
#include "sheetloupe/outline.h"
#include "sheetloupe/photo.h"
#include "sheetloupe/plies.h"
#include "sheetloupe/rectify.h"
#include "sheetloupe/scale.h"
#include "sheetloupe/usable.h"
#include "sheetloupe/usable_build.h"
#include "sheetloupe/weave.h"

namespace sheetloupe {

enum class FaceStatus { measured, measured_in_px, not_measured };

/// The photos of one face, the first of which gives the frame. `role`: "front" or "back".
struct FaceInput {
  std::string role;
  std::vector<Photo> photos;
};

struct EdgeInput {
  std::string side;  // "top", "right", "bottom", "left"
  Photo photo;
};

struct InspectInput {
  std::string sheet_id;
  std::vector<FaceInput> faces;  // front first
  std::vector<EdgeInput> edges;
  LengthStandards standards;
  std::optional<int> datum_strip;  // "top": "strip-k"
  std::optional<int> plies_laid;
  std::optional<Fabric> fabric;  // the cloth that sheet.json names, a check and never a help
  Turned turned = Turned::left_right;
  std::vector<std::array<double, 3>> thickness_at_mm;  // x, y, thickness by caliper; front frame
  std::map<std::string, double> edge_from_mm;          // side -> where its picture's left end lies
};

struct InspectOptions {
  ScaleOptions scale;
  RectifyOptions rectify;
  WeaveOptions weave;
  DefectOptions defects;
  EdgeOptions edges;
  double weave_limit_deg = 5.0;  // beyond this a place is a weave zone; the rubric's figure
  unsigned threads = 0;  // photos worked on side by side; 0: as many as the machine has cores. No result depends on it.
  std::function<void(const std::string& stage)> progress;  // told before each stage begins, one call at a time
  std::function<void()> part_done;                         // on the thread that did it: a face or an edge is done
};

struct FaceResult {
  std::string role;
  std::vector<std::string> photo_files, photo_sha256;
  FaceStatus status = FaceStatus::not_measured;
  std::string reason;  // why not measured, or why in px only
  std::vector<std::string> advice;
  PhotoCheck check;
  Scale scale;
  Outline outline;
  std::array<SheetPoint, 4> corners_mm{};  // as outline.corners_px
  Ring outline_mm;
  double width_mm = 0.0, height_mm = 0.0;  // top side; left side
  double side_u95_mm = 0.0;
  RectifiedSheet sheet;  // empty pictures unless measured
  WeaveAnalysis weave;
  std::vector<WeaveZone> weave_zones;
  DefectAnalysis defects;
};

struct Inspection {
  std::vector<FaceResult> faces;
  std::vector<EdgeReading> edges;
  Laminate laminate;
  UsableMap usable;                  // no features when the front was not measured
  std::vector<std::string> remarks;  // about the sheet as a whole
};

Inspection inspect_sheet(const InspectInput& input, const InspectOptions& options = {});

}  // namespace sheetloupe
