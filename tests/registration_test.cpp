#include "sheetloupe/registration.h"

#include <gtest/gtest.h>

#include <cmath>
#include <memory>
#include <vector>

namespace sheetloupe {
namespace {

constexpr Mm kThick(6.0);

// A camera looking straight down from `height` over `foot`; the frame is turned by `turn` and starts at `origin`, both
// in table mm. A point `below` the face is that much farther from the camera.
class OverheadMap final : public SheetMap {
 public:
  OverheadMap(SheetPoint origin, double turn, SheetPoint foot, double height)
      : origin_(origin), c_(std::cos(turn)), s_(std::sin(turn)), foot_(foot), height_(height) {}
  ImagePoint image_from_sheet(SheetPoint p) const override { return seen(table_from_sheet(p), 0.0); }
  ImagePoint image_from_sheet_below(SheetPoint p, Mm below) const override {
    return seen(table_from_sheet(p), below.value());
  }
  SheetPoint sheet_from_image(ImagePoint p) const override {
    const double k = height_ / kFocal;
    return sheet_from_table({foot_.x + p.x * k, foot_.y + p.y * k});
  }
  SheetPoint table_from_sheet(SheetPoint p) const {
    return {origin_.x + c_ * p.x - s_ * p.y, origin_.y + s_ * p.x + c_ * p.y};
  }
  SheetPoint sheet_from_table(SheetPoint t) const {
    const double x = t.x - origin_.x, y = t.y - origin_.y;
    return {c_ * x + s_ * y, -s_ * x + c_ * y};
  }
  ImagePoint seen(SheetPoint table, double below) const {
    const double k = kFocal / (height_ + below);
    return {(table.x - foot_.x) * k, (table.y - foot_.y) * k};
  }

 private:
  static constexpr double kFocal = 3000.0;
  SheetPoint origin_;
  double c_, s_;
  SheetPoint foot_;
  double height_;
};

// Square markers of 20 mm on the table, `thick` under the face.
std::vector<Marker> seen_markers(const OverheadMap& map, const std::vector<SheetPoint>& centres) {
  std::vector<Marker> markers;
  for (std::size_t i = 0; i < centres.size(); ++i) {
    Marker marker;
    marker.id = static_cast<int>(i);
    const SheetPoint c = centres[i];
    marker.corners = {map.seen({c.x - 10, c.y - 10}, kThick.value()), map.seen({c.x + 10, c.y - 10}, kThick.value()),
                      map.seen({c.x + 10, c.y + 10}, kThick.value()), map.seen({c.x - 10, c.y + 10}, kThick.value())};
    markers.push_back(marker);
  }
  return markers;
}

const std::vector<SheetPoint> kCentres = {{-40, 20}, {-40, 70}, {260, 30}, {250, 120}, {100, -50}};
const OverheadMap kFirst({0, 0}, 0.0, {120, 80}, 400);
const OverheadMap kSecond({3, -2}, 0.3, {60, 110}, 520);

TEST(Registration, WithoutASecondMapThereIsNone) {
  EXPECT_EQ(register_photo(kFirst, seen_markers(kFirst, kCentres), nullptr, {}, kThick).map, nullptr);
}

TEST(Registration, NoCommonMarkerGivesNone) {
  std::vector<Marker> other = seen_markers(kSecond, kCentres);
  for (Marker& marker : other) marker.id += 10;
  EXPECT_EQ(
      register_photo(kFirst, seen_markers(kFirst, kCentres), std::make_shared<OverheadMap>(kSecond), other, kThick).map,
      nullptr);
}

TEST(Registration, OneCommonMarkerIsTooLittle) {
  EXPECT_EQ(register_photo(kFirst, seen_markers(kFirst, {kCentres[0]}), std::make_shared<OverheadMap>(kSecond),
                           seen_markers(kSecond, kCentres), kThick)
                .map,
            nullptr);
}

// The truth is exact, so only rounding is left: a thousandth of a millimetre is generous.
TEST(Registration, ASecondPhotoFromAnotherHeightAndSideIsBroughtIntoTheFirstFrame) {
  for (const std::size_t common : {2U, 5U}) {
    const std::vector<SheetPoint> centres(kCentres.begin(), kCentres.begin() + static_cast<std::ptrdiff_t>(common));
    const Registration found =
        register_photo(kFirst, seen_markers(kFirst, kCentres), std::make_shared<OverheadMap>(kSecond),
                       seen_markers(kSecond, centres), kThick);
    ASSERT_NE(found.map, nullptr) << common;
    EXPECT_LT(found.residual_mm, 1e-3) << common;
    for (const SheetPoint p : {SheetPoint{0, 0}, SheetPoint{200, 10}, SheetPoint{180, 150}}) {
      const ImagePoint wanted = kSecond.seen(kFirst.table_from_sheet(p), 0.0);
      EXPECT_LT(distance_px(found.map->image_from_sheet(p), wanted), 0.01) << common;
      EXPECT_LT(distance_mm(found.map->sheet_from_image(wanted), p), 0.002) << common;
    }
  }
}

TEST(Registration, AStripMovedBetweenThePhotosShowsInTheResidual) {
  std::vector<SheetPoint> moved = kCentres;
  moved[2] = {moved[2].x + 6, moved[2].y};
  const Registration found =
      register_photo(kFirst, seen_markers(kFirst, kCentres), std::make_shared<OverheadMap>(kSecond),
                     seen_markers(kSecond, moved), kThick);
  ASSERT_NE(found.map, nullptr);
  // One of five off by 6 mm: the best rigid fit cannot bring the rms under a few tenths of that.
  EXPECT_GT(found.residual_mm, 1.0);
}

}  // namespace
}  // namespace sheetloupe
