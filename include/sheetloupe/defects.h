// Dry spots, pinholes and resin-rich pools on one face, and what could not be judged.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "sheetloupe/geometry.h"
#include "sheetloupe/rectify.h"
#include "sheetloupe/weave.h"

namespace sheetloupe {

/// Labels of the defect map; the numbers are the contract's.
enum class DefectLabel : unsigned char { sound = 0, dry_spot = 1, pinhole = 2, resin_rich = 3, not_judged = 255 };

/// The contract's word for it: "dry_spot", "not_judged".
std::string_view name_of(DefectLabel label);

struct Defect {
  std::string id;  // "F1", "B3": face letter and number, largest first
  DefectLabel kind = DefectLabel::dry_spot;
  SheetPoint centre;
  double area_mm2 = 0.0;
  double area_u95_mm2 = 0.0;
  Mm max_diameter;          // dry spot: largest extent; pinhole: equivalent diameter
  Ring polygon;             // mm, sheet frame
  Mm keep_clear;            // areas: rings stay this far from the polygon, whose border is no surer; 0 for pinholes
  double confidence = 0.0;  // calibrated probability that it is real, [0, 1]
};

struct DefectOptions {
  double map_mm_per_px = 0.1;
  double false_alarms_per_sheet = 0.3;     // asked rate of false pinholes on a sound sheet, [0.01, 10]
  double false_areas_per_sheet = 0.3;      // asked rate of false dry spots and pools, [0.01, 10]
  double suspects_per_sheet = 50;          // asked rate of suspects of each sort on a sound sheet; 0: none
  std::vector<unsigned char> pinhole_net;  // ONNX bytes of the trained decisions; empty: the plain ones
  std::vector<unsigned char> area_net;
};

struct DefectAnalysis {
  bool judged = false;
  std::string reason;                // why nothing could be judged
  double smallest_pinhole_mm = 0.0;  // full-contrast pinholes from here up are found
  double judged_fraction = 0.0;      // of the cloth
  cv::Mat labels;                    // CV_8UC1, sheet frame, DefectLabel values
  double mm_per_px = 0.1;
  SheetPoint origin;
  std::vector<Defect> items;
  // Too weak to be called a defect, too odd to cut a ring from: not in `labels`, counted nowhere, but rings keep clear.
  // Only the trained decisions give any. `id`: "FS1".
  std::vector<Defect> suspects;
};

/// `id_prefix`: "F" front, "B" back. Several photos of one face are given together, all rectified to one frame.
DefectAnalysis find_defects(const std::vector<RectifiedSheet>& photos, const WeaveAnalysis& weave,
                            const std::string& id_prefix, const DefectOptions& options = {});

}  // namespace sheetloupe
