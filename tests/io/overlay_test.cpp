#include "sheetloupe/io/overlay.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

namespace sheetloupe {
namespace {

// Straight from above, 4 px per mm, the datum corner at pixel (200, 160).
class FlatMap : public SheetMap {
 public:
  ImagePoint image_from_sheet(SheetPoint p) const override { return {200 + 4 * p.x, 160 + 4 * p.y}; }
  SheetPoint sheet_from_image(ImagePoint p) const override { return {(p.x - 200) / 4, (p.y - 160) / 4}; }
  ImagePoint image_from_sheet_below(SheetPoint p, Mm) const override { return image_from_sheet(p); }
};

Photo grey_photo(int width = 1200, int height = 800) {
  Photo photo;
  photo.bgr = cv::Mat(height, width, CV_8UC3, cv::Scalar(60, 60, 60));
  return photo;
}

// A measured face of 200 x 120 mm.
FaceResult measured_face() {
  FaceResult face;
  face.role = "front";
  face.status = FaceStatus::measured;
  face.scale.map = std::make_shared<FlatMap>();
  face.width_mm = 200;
  face.height_mm = 120;
  face.outline.found = true;
  face.outline.corners_px = {ImagePoint{200, 160}, {1000, 160}, {1000, 640}, {200, 640}};
  face.outline.polygon_px = {face.outline.corners_px.begin(), face.outline.corners_px.end()};
  return face;
}

// Middle of all pixels whose colour is nearer to `bgr` than 40 in each channel.
cv::Point2d middle_of(const cv::Mat& picture, const cv::Scalar& bgr) {
  cv::Mat mask;
  cv::inRange(picture, bgr - cv::Scalar::all(40), bgr + cv::Scalar::all(40), mask);
  const cv::Moments m = cv::moments(mask, true);
  return m.m00 > 0 ? cv::Point2d(m.m10 / m.m00, m.m01 / m.m00) : cv::Point2d(-1, -1);
}

const cv::Scalar kYellow(66, 228, 240), kOrange(0, 159, 230), kBlue(233, 180, 86);

TEST(Overlay, WithoutAnOutlineItIsThePhoto) {
  const Photo photo = grey_photo();
  EXPECT_EQ(cv::norm(draw_overlay(photo, FaceResult{}), photo.bgr), 0);
}

TEST(Overlay, ThePhotoItselfIsNotChanged) {
  const Photo photo = grey_photo();
  draw_overlay(photo, measured_face());
  EXPECT_EQ(cv::norm(photo.bgr, grey_photo().bgr), 0);
}

TEST(Overlay, AFaceInPixelsShowsItsSidesAlone) {
  FaceResult face = measured_face();
  face.status = FaceStatus::measured_in_px;
  face.scale.map.reset();
  const cv::Mat picture = draw_overlay(grey_photo(), face);
  EXPECT_EQ(picture.at<cv::Vec3b>(400, 1000), cv::Vec3b(255, 255, 255));
  EXPECT_EQ(picture.at<cv::Vec3b>(151, 600), cv::Vec3b(60, 60, 60));  // no tick at 100 mm
}

TEST(Overlay, MarksLieOverWhatTheyMark) {
  FaceResult face = measured_face();
  Defect pinhole;
  pinhole.id = "F1";
  pinhole.kind = DefectLabel::pinhole;
  pinhole.centre = {50, 30};
  Defect dry;
  dry.id = "F2";
  dry.polygon = {{120, 60}, {140, 60}, {140, 80}, {120, 80}};
  Defect resin = dry;
  resin.id = "F3";
  resin.kind = DefectLabel::resin_rich;
  resin.polygon = {{60, 80}, {80, 80}, {80, 100}, {60, 100}};
  face.defects.items = {pinhole, dry, resin};
  const cv::Mat picture = draw_overlay(grey_photo(), face);
  const cv::Point2d hole = middle_of(picture, kYellow), spot = middle_of(picture, kOrange),
                    pool = middle_of(picture, kBlue);
  EXPECT_NEAR(hole.x, 400, 0.5);
  EXPECT_NEAR(hole.y, 280, 0.5);
  EXPECT_NEAR(spot.x, 200 + 4 * 130, 3);  // the dots' lattice need not be centred
  EXPECT_NEAR(spot.y, 160 + 4 * 70, 3);
  EXPECT_NEAR(pool.x, 200 + 4 * 70, 3);
  EXPECT_NEAR(pool.y, 160 + 4 * 90, 3);
}

TEST(Overlay, SuspectsAreWhiteDashesWhereTheyLie) {
  FaceResult face = measured_face();
  const cv::Mat without = draw_overlay(grey_photo(), face);
  Defect place, pit;
  place.polygon = {{40, 40}, {50, 40}, {50, 50}, {40, 50}};
  pit.kind = DefectLabel::pinhole;
  pit.centre = {150, 80};
  for (const Defect& suspect : {place, pit}) {
    face.defects.suspects = {suspect};
    const cv::Mat with = draw_overlay(grey_photo(), face);
    cv::Mat changed, white;
    cv::absdiff(with, without, changed);
    cv::inRange(with, cv::Scalar::all(230), cv::Scalar::all(255), white);
    cv::cvtColor(changed, changed, cv::COLOR_BGR2GRAY);
    const bool is_pit = suspect.kind == DefectLabel::pinhole;
    const cv::Point at = is_pit ? cv::Point(800, 480) : cv::Point(380, 340);  // 4 px a mm from (200, 160)
    const int half = is_pit ? 9 : 23;
    const cv::Rect there(at.x - half, at.y - half, 2 * half + 1, 2 * half + 1);
    EXPECT_GT(cv::countNonZero(changed > 0), cv::countNonZero(changed(there) > 0) + 50) << "no word beside it";
    const cv::Moments m = cv::moments(changed(there) > 0, true);
    ASSERT_GT(m.m00, 0);
    EXPECT_NEAR(m.m10 / m.m00, half, 3);
    EXPECT_NEAR(m.m01 / m.m00, half, 3);
    EXPECT_GT(cv::countNonZero(white & (changed > 0)), 5);
  }
}

TEST(Overlay, WhatWasNotJudgedIsHatchedInsideTheSheetOnly) {
  FaceResult face = measured_face();
  face.defects.judged = true;
  face.defects.mm_per_px = 0.5;
  face.defects.origin = {-5, -5};
  face.defects.labels = cv::Mat(260, 420, CV_8UC1, cv::Scalar(255));  // all around, too
  face.defects.labels(cv::Rect(10, 10, 400, 240)).setTo(0);
  face.defects.labels(cv::Rect(110, 90, 80, 80)).setTo(255);  // sheet 50 to 90, 40 to 80 mm
  const cv::Mat picture = draw_overlay(grey_photo(), face);
  const auto differing = [&](cv::Rect where) {
    cv::Mat off = picture(where) != cv::Mat(where.size(), CV_8UC3, cv::Scalar(60, 60, 60));
    cv::Mat one;
    cv::cvtColor(off, one, cv::COLOR_BGR2GRAY);
    return cv::countNonZero(one) / static_cast<double>(where.area());
  };
  EXPECT_GT(differing({410, 330, 140, 140}), 0.95);  // darkened and hatched
  EXPECT_EQ(differing({700, 300, 200, 200}), 0.0);   // judged
  EXPECT_EQ(differing({1020, 300, 100, 200}), 0.0);  // the table
}

TEST(Overlay, ALargePhotoIsShownAtHalfItsSize) {
  FaceResult face = measured_face();
  const cv::Mat picture = draw_overlay(grey_photo(4800, 3200), face);
  EXPECT_EQ(picture.cols, 2400);
  EXPECT_EQ(picture.rows, 1600);
  // The right side at photo column 1000 (centre) is (1000.5 / 2 - 0.5) = 499.75 here.
  EXPECT_GT(picture.at<cv::Vec3b>(250, 499)[0], 200);
}

}  // namespace
}  // namespace sheetloupe
