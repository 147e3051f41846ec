// What must hold whatever the picture shows: turned, enlarged, mirrored or worked on by other threads, a photo says the
// same of the sheet.
#include <gtest/gtest.h>

#include <filesystem>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/inspect.h"
#include "sheetloupe/io/inspection_files.h"
#include "sheetloupe/io/report_json.h"
#include "sheetloupe/io/rubric_json.h"

namespace sheetloupe {
namespace {

struct Case {
  InspectInput input;
  InspectOptions options;
};

Case photographed(const char* sheet) {
  const SheetFolder folder = read_sheet_folder(std::filesystem::path(TEST_IMAGES) / sheet);
  return {load_inspect_input(folder), options_for(folder.facts, read_rubric(kDefaultRubric))};
}

FaceResult front_of(const Case& c) { return inspect_sheet(c.input, c.options).faces.at(0); }

// Every place on `a`, in the photo of `b`'s frame by `move`, is the same sheet place in both, within both
// uncertainties.
void expect_same_sheet(const FaceResult& a, const FaceResult& b, const std::function<ImagePoint(ImagePoint)>& move) {
  ASSERT_EQ(a.status, FaceStatus::measured) << a.reason;
  ASSERT_EQ(b.status, FaceStatus::measured) << b.reason;
  const double position = std::hypot(a.scale.position_u95_mm, b.scale.position_u95_mm),
               side = std::hypot(a.side_u95_mm, b.side_u95_mm);
  EXPECT_NEAR(a.width_mm, b.width_mm, side);
  EXPECT_NEAR(a.height_mm, b.height_mm, side);
  for (const SheetPoint p : {SheetPoint{20, 20}, {a.width_mm - 20, 20}, {a.width_mm / 2, a.height_mm / 2}}) {
    const SheetPoint q = b.scale.map->sheet_from_image(move(a.scale.map->image_from_sheet(p)));
    EXPECT_LT(distance_mm(p, q), side + position);
  }
  const double angle = std::hypot(a.weave.angle_u95_deg, b.weave.angle_u95_deg);
  EXPECT_NEAR(wrap_turn_degrees(a.weave.warp.degrees() - b.weave.warp.degrees()), 0, angle + 0.1);
  EXPECT_NEAR(wrap_turn_degrees(a.weave.weft.degrees() - b.weave.weft.degrees()), 0, angle + 0.1);
}

TEST(Properties, PhotoTurnedByAQuarterGivesTheSameSheetWhenAStripTiesTheFrame) {
  Case upright = photographed("H-010");
  upright.input.datum_strip = 0;
  Case turned = upright;
  Photo& photo = turned.input.faces[0].photos[0];
  const int rows = photo.bgr.rows;
  cv::rotate(photo.bgr.clone(), photo.bgr, cv::ROTATE_90_CLOCKWISE);
  photo.turned_quarter = !photo.turned_quarter;
  expect_same_sheet(front_of(upright), front_of(turned), [rows](ImagePoint p) {
    return ImagePoint{rows - 1 - p.y, p.x};
  });
}

TEST(Properties, TwiceThePixelsGiveTheSameMillimetres) {
  const Case plain = photographed("H-010");
  Case large = plain;
  cv::Mat& bgr = large.input.faces[0].photos[0].bgr;
  cv::resize(bgr.clone(), bgr, {}, 2, 2, cv::INTER_CUBIC);
  expect_same_sheet(front_of(plain), front_of(large), [](ImagePoint p) {
    return ImagePoint{2 * p.x + 0.5, 2 * p.y + 0.5};
  });
}

TEST(Properties, MirroredPhotoIsNoticedAndNotMeasured) {
  Case mirrored = photographed("H-010");
  cv::Mat& bgr = mirrored.input.faces[0].photos[0].bgr;
  cv::flip(bgr.clone(), bgr, 1);
  const FaceResult face = front_of(mirrored);
  EXPECT_EQ(face.status, FaceStatus::not_measured);
  EXPECT_NE(face.reason.find("mirrored"), std::string::npos) << face.reason;
}

// Phones and programs tone a photo after the sensor was blown out: the lamp's reflection then ends below 255.
TEST(Properties, LampInAPhotoThatWasDarkenedAfterwardsIsGlareToo) {
  Case bright = photographed("H-010");
  cv::Mat& photo = bright.input.faces[0].photos[0].bgr;
  const FaceResult plain = front_of(bright);
  ASSERT_EQ(plain.status, FaceStatus::measured) << plain.reason;
  const SheetPoint lamp{plain.width_mm / 2, plain.height_mm / 2};
  const ImagePoint at = plain.scale.map->image_from_sheet(lamp);
  cv::Mat light = cv::Mat::zeros(photo.size(), CV_32FC3);
  cv::circle(light, {cvRound(at.x), cvRound(at.y)}, 60, cv::Scalar::all(400), cv::FILLED);
  cv::GaussianBlur(light, light, {}, 20);
  cv::add(photo, light, photo, cv::noArray(), CV_8U);
  Case darkened = bright;
  darkened.input.faces[0].photos[0].bgr = photo * 0.9;
  const FaceResult one = front_of(bright), other = front_of(darkened);
  ASSERT_EQ(other.status, FaceStatus::measured) << other.reason;
  const int blown = cv::countNonZero(one.sheet.glare);
  EXPECT_GT(blown, 3000);
  EXPECT_NEAR(cv::countNonZero(other.sheet.glare), blown, 0.1 * blown);
  const auto dry_mm2 = [](const FaceResult& face) {
    double sum = 0;
    for (const Defect& d : face.defects.items) sum += d.kind == DefectLabel::dry_spot ? d.area_mm2 : 0;
    return sum;
  };
  EXPECT_NEAR(dry_mm2(other), dry_mm2(one), 0.1 * dry_mm2(one));
}

TEST(Properties, OneThreadAndManyGiveTheSameReportToTheLastDigitAndLeaveTheirPhotosAlone) {
  Case c = photographed("H-011");
  c.input.faces.push_back(c.input.faces[0]);
  c.input.faces[1].role = "back";
  const cv::Mat before = c.input.faces[0].photos[0].bgr.clone();
  const int threads = cv::getNumThreads();
  c.options.threads = 2;
  const std::string many = report_to_json(inspect_sheet(c.input, c.options), {}).dump();
  cv::setNumThreads(1);
  c.options.threads = 1;
  const std::string one = report_to_json(inspect_sheet(c.input, c.options), {}).dump();
  cv::setNumThreads(threads);
  EXPECT_EQ(one, many);
  EXPECT_EQ(cv::norm(before, c.input.faces[0].photos[0].bgr, cv::NORM_INF), 0);
}

}  // namespace
}  // namespace sheetloupe
