#include "sheetloupe/rectify.h"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <functional>

namespace sheetloupe {
namespace {

// A photo taken straight from above or, with `lean`, at a slant: x = s X / (1 + lean Y) and so on. Photo pixel edges
// lie on whole multiples of 1/s mm at the origin, so its centres are half a pixel further.
class DrawnMap final : public SheetMap {
 public:
  explicit DrawnMap(double px_per_mm, double lean = 0.0) : s_(px_per_mm), lean_(lean) {}
  ImagePoint image_from_sheet(SheetPoint p) const override {
    const double w = 1.0 + lean_ * p.y;
    return {s_ * p.x / w - 0.5, s_ * p.y / w - 0.5};
  }
  SheetPoint sheet_from_image(ImagePoint p) const override {
    const double v = (p.y + 0.5) / s_, y = v / (1.0 - lean_ * v);
    return {(p.x + 0.5) / s_ * (1.0 + lean_ * y), y};
  }
  ImagePoint image_from_sheet_below(SheetPoint p, Mm) const override { return image_from_sheet(p); }

 private:
  double s_, lean_;
};

Outline rectangle(const SheetMap& map, double left, double top, double right, double bottom) {
  Outline outline;
  outline.found = true;
  outline.corners_px = {map.image_from_sheet({left, top}), map.image_from_sheet({right, top}),
                        map.image_from_sheet({right, bottom}), map.image_from_sheet({left, bottom})};
  outline.polygon_px.assign(outline.corners_px.begin(), outline.corners_px.end());
  return outline;
}

Photo photo_of(const cv::Size& size, const std::function<double(double, double)>& grey) {
  Photo photo;
  photo.bgr.create(size, CV_8UC3);
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const auto v = cv::saturate_cast<unsigned char>(grey(c, r));
      photo.bgr.at<cv::Vec3b>(r, c) = {v, v, v};
    }
  }
  return photo;
}

int grey_at(const RectifiedSheet& sheet, int row, int column) { return sheet.bgr.at<cv::Vec3b>(row, column)[1]; }

TEST(Rectify, AnOutlineOfOnePointGivesOnePixel) {
  const DrawnMap map(10.0);
  const Photo photo = photo_of({100, 100}, [](double, double) { return 90.0; });
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 5, 5, 5, 5));
  EXPECT_EQ(sheet.bgr.size(), cv::Size(1, 1));
  EXPECT_EQ(cv::countNonZero(sheet.cloth), 0);
}

TEST(Rectify, AtThePhotosOwnScaleEveryPixelIsThePhotosPixel) {
  const DrawnMap map(10.0);
  const Photo photo = photo_of({300, 200}, [](double x, double y) { return std::fmod(37 * x + 91 * y, 251); });
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 3, 2, 23, 12));
  ASSERT_EQ(sheet.bgr.size(), cv::Size(200, 100));
  for (int r = 0; r < 100; r += 7) {
    for (int c = 0; c < 200; c += 11) {
      EXPECT_EQ(grey_at(sheet, r, c), photo.bgr.at<cv::Vec3b>(r + 20, c + 30)[1]);
    }
  }
}

// The sheet's own picture is known everywhere, so the flat one can be checked against it, tilt included. Bilinear
// interpolation of a sine of period P px errs by at most (pi/P)^2/2 of its amplitude; here P = 40: 0.2 grey levels, and
// rounding twice adds one.
TEST(Rectify, ASlantedPhotoIsLaidFlatToAGreyLevel) {
  const DrawnMap map(10.0, 0.004);
  const auto truth = [](SheetPoint p) {
    return 128 + 60 * std::sin(2 * M_PI * p.x / 4.0) * std::sin(2 * M_PI * p.y / 4.0);
  };
  const Photo photo = photo_of({500, 500}, [&](double x, double y) { return truth(map.sheet_from_image({x, y})); });
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 4, 4, 40, 40));
  for (int r = 5; r < sheet.bgr.rows - 5; r += 9) {
    for (int c = 5; c < sheet.bgr.cols - 5; c += 9) {
      EXPECT_NEAR(grey_at(sheet, r, c), truth(sheet.sheet_from_pixel(c, r)), 1.6) << r << " " << c;
    }
  }
}

// A chessboard of single photo pixels, flat picture four times coarser: its mean is all that can be shown. Taking
// single samples would show blotches from black to white.
TEST(Rectify, DetailTooFineForTheFlatPictureIsAveraged) {
  const DrawnMap map(40.2);
  const Photo photo = photo_of({900, 900}, [](double x, double y) { return std::fmod(x + y, 2) < 1 ? 20.0 : 220.0; });
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 2, 2, 20, 20));
  double low = 255, high = 0;
  for (int r = 2; r < sheet.bgr.rows - 2; ++r) {
    for (int c = 2; c < sheet.bgr.cols - 2; ++c) {
      low = std::min<double>(low, grey_at(sheet, r, c));
      high = std::max<double>(high, grey_at(sheet, r, c));
    }
  }
  EXPECT_NEAR(low, 120, 2);
  EXPECT_NEAR(high, 120, 2);
}

TEST(Rectify, ShrinkingDoesNotShiftThePicture) {
  const DrawnMap map(40.0);
  const Photo photo = photo_of({900, 300}, [](double x, double) { return (x + 0.5) / 40.0 * 10.0; });  // 10 a mm
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 1, 1, 21, 6));
  for (int c = 1; c < sheet.bgr.cols - 1; ++c) {
    EXPECT_NEAR(grey_at(sheet, 20, c), 10.0 * sheet.sheet_from_pixel(c, 20).x, 0.8) << c;
  }
}

TEST(Rectify, TheClothMaskHasTheClothsOwnArea) {
  const DrawnMap map(10.0);
  const Photo photo = photo_of({400, 300}, [](double, double) { return 90.0; });
  Outline outline = rectangle(map, 0, 0, 30, 20);
  for (const double inset : {1.0, 1.04, 2.5}) {
    outline.cloth_px = rectangle(map, inset, inset, 30 - inset, 20 - inset).polygon_px;
    const double area = cv::countNonZero(rectify(photo, map, outline).cloth) * 0.01;
    const double wanted = (30 - 2 * inset) * (20 - 2 * inset);
    // A side lies at most half a pixel, 0.05 mm, beside the border of whole pixels.
    EXPECT_NEAR(area, wanted, 0.05 * 2 * (30 + 20 - 4 * inset)) << inset;
    if (inset != 1.04) {
      EXPECT_NEAR(area, wanted, 1e-9) << inset;
    }
  }
}

TEST(Rectify, ASmallGlareIsJudgedInThePhotosOwnPixels) {
  const DrawnMap map(40.0);
  // Four photo px, one flat pixel, set between flat pixels: averaged it would not be white anywhere.
  Photo photo = photo_of({900, 900}, [](double, double) { return 60.0; });
  photo.bgr(cv::Rect(402, 402, 4, 4)) = cv::Scalar(255, 255, 255);
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 2, 2, 20, 20));
  const int at = static_cast<int>((404.0 / 40.0 - 2.0) / 0.1);
  EXPECT_EQ(sheet.glare.at<unsigned char>(at, at), 255);
  EXPECT_LT(cv::countNonZero(sheet.glare), 100);
  // A lone blown pixel is a glint on a fibre.
  Photo glint = photo_of({900, 900}, [](double, double) { return 60.0; });
  glint.bgr.at<cv::Vec3b>(404, 404) = {255, 255, 255};
  EXPECT_EQ(cv::countNonZero(rectify(glint, map, rectangle(map, 2, 2, 20, 20)).glare), 0);
}

TEST(Rectify, ALargeSheetIsCoarsenedToTheLimit) {
  const DrawnMap map(2.0);
  const Photo photo = photo_of({1200, 1000}, [](double, double) { return 90.0; });
  RectifyOptions options;
  options.max_megapixels = 1.0;
  const RectifiedSheet sheet = rectify(photo, map, rectangle(map, 0, 0, 500, 400), options);
  EXPECT_LE(sheet.bgr.total(), 1.01e6);
  EXPECT_NEAR(sheet.mm_per_px, std::sqrt(0.2), 1e-9);
}

}  // namespace
}  // namespace sheetloupe
