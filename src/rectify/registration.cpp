#include "sheetloupe/registration.h"

#include <cmath>
#include <map>

namespace sheetloupe {
namespace {

// The second frame seen from the first: a rotation about the origin, then a shift (mm).
struct RigidMotion {
  double cosine = 1.0, sine = 0.0, dx = 0.0, dy = 0.0;
  SheetPoint forward(SheetPoint p) const { return {cosine * p.x - sine * p.y + dx, sine * p.x + cosine * p.y + dy}; }
  SheetPoint back(SheetPoint p) const {
    const double x = p.x - dx, y = p.y - dy;
    return {cosine * x + sine * y, -sine * x + cosine * y};
  }
};

class MovedMap final : public SheetMap {
 public:
  MovedMap(std::shared_ptr<const SheetMap> map, RigidMotion second_from_first)
      : map_(std::move(map)), second_from_first_(second_from_first) {}
  ImagePoint image_from_sheet(SheetPoint p) const override {
    return map_->image_from_sheet(second_from_first_.forward(p));
  }
  SheetPoint sheet_from_image(ImagePoint p) const override {
    return second_from_first_.back(map_->sheet_from_image(p));
  }
  ImagePoint image_from_sheet_below(SheetPoint p, Mm below) const override {
    return map_->image_from_sheet_below(second_from_first_.forward(p), below);
  }

 private:
  std::shared_ptr<const SheetMap> map_;
  RigidMotion second_from_first_;
};

// Where a point of the table, `below` under the face, lies in sheet mm: the fixed point of
// image_from_sheet_below(x) = image, found by correcting with the face's own map (the parallax is nearly constant).
SheetPoint table_point(const SheetMap& map, ImagePoint image, Mm below) {
  const SheetPoint wanted = map.sheet_from_image(image);
  SheetPoint estimate = wanted;
  for (int i = 0; i < 8; ++i) {
    const SheetPoint seen = map.sheet_from_image(map.image_from_sheet_below(estimate, below));
    estimate = {estimate.x + wanted.x - seen.x, estimate.y + wanted.y - seen.y};
  }
  return estimate;
}

struct Pair {
  SheetPoint first, second;
};

// Least-squares rotation and shift, closed form (Umeyama 1991, without scale).
RigidMotion fit_motion(const std::vector<Pair>& pairs) {
  SheetPoint a, b;
  for (const Pair& p : pairs) {
    a = {a.x + p.first.x, a.y + p.first.y};
    b = {b.x + p.second.x, b.y + p.second.y};
  }
  const double n = static_cast<double>(pairs.size());
  a = {a.x / n, a.y / n};
  b = {b.x / n, b.y / n};
  double dot = 0.0, cross = 0.0;
  for (const Pair& p : pairs) {
    const double x1 = p.first.x - a.x, y1 = p.first.y - a.y, x2 = p.second.x - b.x, y2 = p.second.y - b.y;
    dot += x1 * x2 + y1 * y2;
    cross += x1 * y2 - y1 * x2;
  }
  const double length = std::hypot(dot, cross);
  RigidMotion motion{dot / length, cross / length, 0.0, 0.0};
  const SheetPoint turned = motion.forward(a);
  motion.dx = b.x - turned.x;
  motion.dy = b.y - turned.y;
  return motion;
}

}  // namespace

Registration register_photo(const SheetMap& first, const std::vector<Marker>& first_markers,
                            std::shared_ptr<const SheetMap> second, const std::vector<Marker>& second_markers,
                            Mm below) {
  if (!second) return {};
  std::map<int, const Marker*> by_id;
  for (const Marker& marker : first_markers) by_id[marker.id] = &marker;
  std::vector<Pair> pairs;
  for (const Marker& marker : second_markers) {
    const auto twin = by_id.find(marker.id);
    if (twin == by_id.end()) continue;
    for (std::size_t i = 0; i < marker.corners.size(); ++i) {
      pairs.push_back(
          {table_point(first, twin->second->corners[i], below), table_point(*second, marker.corners[i], below)});
    }
  }
  if (pairs.size() < 8) return {};
  const RigidMotion motion = fit_motion(pairs);
  double sum = 0.0;
  for (const Pair& p : pairs) {
    const double miss = distance_mm(motion.forward(p.first), p.second);
    sum += miss * miss;
  }
  return {std::make_shared<MovedMap>(std::move(second), motion), std::sqrt(sum / static_cast<double>(pairs.size()))};
}

}  // namespace sheetloupe
