#include "sheetloupe/io/overlay.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace sheetloupe {
namespace {

constexpr double kWidest = 2400.0;

// Marks keep their colours on page, template and overlay (BGR): a light line on a black casing reads on pale and dark.
const cv::Scalar kWhite(255, 255, 255), kBlack(0, 0, 0), kDry(0, 159, 230), kPinhole(66, 228, 240),
    kResin(233, 180, 86), kWeave(167, 121, 204);

class Drawing {
 public:
  Drawing(const Photo& photo, const FaceResult& face) : face_(face), k_(std::min(1.0, kWidest / photo.bgr.cols)) {
    cv::resize(photo.bgr, picture_, {}, k_, k_, cv::INTER_AREA);
  }

  void sides() {
    line(face_.outline.polygon_px, kWhite, true);
    for (const ImagePoint& c : face_.outline.corners_px) cv::circle(picture_, pixel(c), 7, kWhite, 2, cv::LINE_AA);
    datum();
    if (face_.scale.map) graduation();
  }

  void shape(const Ring& ring, const cv::Scalar& colour, const std::string& label) {
    std::vector<ImagePoint> points;
    for (const SheetPoint& p : ring) points.push_back(face_.scale.map->image_from_sheet(p));
    if (points.size() < 3) return;
    line(points, colour, true);
    text(pixel(points.front()) + cv::Point(6, -6), label);
  }

  void pinhole(const Defect& defect) {
    const cv::Point at = pixel(face_.scale.map->image_from_sheet(defect.centre));
    cv::circle(picture_, at, 9, kBlack, 5, cv::LINE_AA);
    cv::circle(picture_, at, 9, kPinhole, 2, cv::LINE_AA);
    text(at + cv::Point(12, -6), defect.id);
  }

  cv::Mat take() { return picture_; }

 private:
  cv::Point pixel(ImagePoint p) const { return {cvRound((p.x + 0.5) * k_ - 0.5), cvRound((p.y + 0.5) * k_ - 0.5)}; }

  void line(const std::vector<ImagePoint>& points, const cv::Scalar& colour, bool closed) {
    std::vector<cv::Point> path;
    for (const ImagePoint& p : points) path.push_back(pixel(p));
    cv::polylines(picture_, path, closed, kBlack, 5, cv::LINE_AA);
    cv::polylines(picture_, path, closed, colour, 2, cv::LINE_AA);
  }

  void text(cv::Point at, const std::string& words) {
    cv::putText(picture_, words, at, cv::FONT_HERSHEY_SIMPLEX, 0.6, kBlack, 4, cv::LINE_AA);
    cv::putText(picture_, words, at, cv::FONT_HERSHEY_SIMPLEX, 0.6, kWhite, 1, cv::LINE_AA);
  }

  // The datum corner: a solid triangle inside it.
  void datum() {
    const auto& c = face_.outline.corners_px;
    const auto toward = [&](int i) {
      const double length = distance_px(c[0], c[i]), step = std::min(0.06 * length, 60.0 / k_) / length;
      return ImagePoint{c[0].x + (c[i].x - c[0].x) * step, c[0].y + (c[i].y - c[0].y) * step};
    };
    cv::fillConvexPoly(picture_, std::vector<cv::Point>{pixel(c[0]), pixel(toward(1)), pixel(toward(3))}, kWhite,
                       cv::LINE_AA);
  }

  // A tick every 10 mm along the top and the left side, outside the sheet; every 50 mm a longer one with its figure.
  void graduation() {
    const auto tick = [&](SheetPoint from, SheetPoint out, double mm) {
      const bool big = std::fmod(mm, 50.0) < 0.5;
      const double reach = big ? 4.0 : 2.0;
      const cv::Point a = pixel(face_.scale.map->image_from_sheet(from));
      const cv::Point b = pixel(face_.scale.map->image_from_sheet({from.x + out.x * reach, from.y + out.y * reach}));
      cv::line(picture_, a, b, kBlack, 4, cv::LINE_AA);
      cv::line(picture_, a, b, kWhite, 2, cv::LINE_AA);
      if (big && mm > 1) text(b + cv::Point(-14, -4), std::to_string(static_cast<int>(mm)));
    };
    for (double x = 0; x <= face_.width_mm; x += 10) tick({x, 0}, {0, -1}, x);
    for (double y = 0; y <= face_.height_mm; y += 10) tick({0, y}, {-1, 0}, y);
  }

  const FaceResult& face_;
  double k_;
  cv::Mat picture_;
};

}  // namespace

cv::Mat draw_overlay(const Photo& photo, const FaceResult& face) {
  Drawing drawing(photo, face);
  if (!face.outline.found) return drawing.take();
  drawing.sides();
  if (face.status == FaceStatus::measured) {
    for (const WeaveZone& zone : face.weave_zones) drawing.shape(zone.polygon.outer, kWeave, zone.what);
    for (const Defect& defect : face.defects.items) {
      if (defect.kind == DefectLabel::pinhole)
        drawing.pinhole(defect);
      else
        drawing.shape(defect.polygon, defect.kind == DefectLabel::dry_spot ? kDry : kResin, defect.id);
    }
  }
  return drawing.take();
}

}  // namespace sheetloupe
