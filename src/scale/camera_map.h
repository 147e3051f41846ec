// The sheet frame tied to the fitted camera.
#pragma once

#include <array>

#include "scale/bundle.h"
#include "scale/camera_model.h"
#include "sheetloupe/scale.h"

namespace sheetloupe::scale {

class CameraMap final : public SheetMap {
 public:
  /// The face lies `face_mm` above the table; its frame starts at table point (x0, y0), +x at `theta` radians.
  CameraMap(const std::array<double, kCameraSize>& camera, const Frame& frame, double face_mm, double x0, double y0,
            double theta);
  ImagePoint image_from_sheet(SheetPoint point) const override;
  SheetPoint sheet_from_image(ImagePoint point) const override;
  ImagePoint image_from_sheet_below(SheetPoint point, Mm below) const override;

 private:
  std::array<double, kCameraSize> camera_;
  Frame frame_;
  double face_mm_, x0_, y0_, cosine_, sine_;
};

/// The map of a fit: in the sheet's frame (first corner, +x toward the second) or, without corners, the table's.
std::shared_ptr<const SheetMap> map_of(const Fit& fit, const Frame& frame,
                                       const std::optional<std::array<ImagePoint, 4>>& corners);

}  // namespace sheetloupe::scale
