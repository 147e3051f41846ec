#include "scale/camera_map.h"

namespace sheetloupe::scale {

CameraMap::CameraMap(const std::array<double, kCameraSize>& camera, const Frame& frame, double face_mm, double x0,
                     double y0, double theta)
    : camera_(camera),
      frame_(frame),
      face_mm_(face_mm),
      x0_(x0),
      y0_(y0),
      cosine_(std::cos(theta)),
      sine_(std::sin(theta)) {}

ImagePoint CameraMap::image_from_sheet(SheetPoint point) const { return image_from_sheet_below(point, Mm(0.0)); }

ImagePoint CameraMap::image_from_sheet_below(SheetPoint p, Mm below) const {
  const double x = x0_ + cosine_ * p.x - sine_ * p.y, y = y0_ + sine_ * p.x + cosine_ * p.y;
  const auto q = project(camera_.data(), frame_, x, y, face_mm_ - below.value());
  return {q.x, q.y};
}

SheetPoint CameraMap::sheet_from_image(ImagePoint point) const {
  const auto p = back_project(camera_.data(), frame_, point.x, point.y, face_mm_);
  const double x = p.x - x0_, y = p.y - y0_;
  return {cosine_ * x + sine_ * y, -sine_ * x + cosine_ * y};
}

std::shared_ptr<const SheetMap> map_of(const Fit& fit, const Frame& frame,
                                       const std::optional<std::array<ImagePoint, 4>>& corners) {
  const Unknowns& u = fit.unknowns;
  if (!corners) return std::make_shared<CameraMap>(u.camera, frame, u.thickness, 0.0, 0.0, 0.0);
  const auto p = back_project(u.camera.data(), frame, (*corners)[0].x, (*corners)[0].y, u.thickness);
  const auto q = back_project(u.camera.data(), frame, (*corners)[1].x, (*corners)[1].y, u.thickness);
  return std::make_shared<CameraMap>(u.camera, frame, u.thickness, p.x, p.y, std::atan2(q.y - p.y, q.x - p.x));
}

}  // namespace sheetloupe::scale
