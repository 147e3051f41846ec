#include "sheetloupe/io/images.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/demo.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

// Upright: red top-left, green top-right, blue bottom-left, white bottom-right; 120 x 80.
cv::Mat upright() {
  cv::Mat picture(80, 120, CV_8UC3, cv::Scalar(255, 255, 255));
  picture(cv::Rect(0, 0, 60, 40)) = cv::Scalar(0, 0, 255);
  picture(cv::Rect(60, 0, 60, 40)) = cv::Scalar(0, 255, 0);
  picture(cv::Rect(0, 40, 60, 40)) = cv::Scalar(255, 0, 0);
  return picture;
}

std::string encoded(const std::string& ending, const cv::Mat& picture) {
  std::vector<unsigned char> bytes;
  cv::imencode(ending, picture, bytes);
  return {bytes.begin(), bytes.end()};
}

// A minimal EXIF block in an APP1 segment: one directory with the orientation (Exif 2.32; TIFF 6.0).
std::string with_orientation(const std::string& jpeg, int orientation) {
  std::string tiff("II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0", 18);
  tiff += static_cast<char>(orientation);
  tiff += std::string(3, '\0') + std::string(4, '\0');
  const std::string block = std::string("Exif\0\0", 6) + tiff;
  std::string app("\xFF\xE1", 2);
  app += static_cast<char>((block.size() + 2) >> 8U);
  app += static_cast<char>((block.size() + 2) & 255U);
  return jpeg.substr(0, 2) + app + block + jpeg.substr(2);
}

// How a camera would have stored the upright picture under each orientation: the inverse of what a reader must do.
cv::Mat stored(int orientation) {
  cv::Mat p = upright(), out;
  switch (orientation) {
    case 2:
      cv::flip(p, out, 1);
      return out;
    case 3:
      cv::rotate(p, out, cv::ROTATE_180);
      return out;
    case 4:
      cv::flip(p, out, 0);
      return out;
    case 5:
      cv::transpose(p, out);
      return out;
    case 6:
      cv::rotate(p, out, cv::ROTATE_90_COUNTERCLOCKWISE);
      return out;
    case 7:
      cv::flip(p, p, 1);
      cv::rotate(p, out, cv::ROTATE_90_COUNTERCLOCKWISE);
      return out;
    case 8:
      cv::rotate(p, out, cv::ROTATE_90_CLOCKWISE);
      return out;
    default:
      return p;
  }
}

class Orientation : public testing::TestWithParam<int> {};

TEST_P(Orientation, IsAppliedOnce) {
  const TempDir dir;
  write_file(dir / "front.jpg", with_orientation(encoded(".jpg", stored(GetParam())), GetParam()));
  const Photo photo = load_photo(dir / "front.jpg");
  ASSERT_EQ(photo.bgr.size(), cv::Size(120, 80));
  EXPECT_LT(cv::norm(photo.bgr, upright(), cv::NORM_L1) / photo.bgr.total(), 12.0);
  EXPECT_EQ(photo.turned_quarter, GetParam() >= 5);
}

INSTANTIATE_TEST_SUITE_P(AllEight, Orientation, testing::Range(1, 9));

TEST(Images, FocalLengthOfAPhoneJpegIsRead) {
  const TempDir dir;
  write_file(dir / "a.jpg", phone_jpeg(upright(), 26));
  EXPECT_EQ(load_photo(dir / "a.jpg").focal_35mm_mm, 26.0);
}

TEST(Images, AbsurdFocalLengthCountsAsAbsent) {
  const TempDir dir;
  for (const int focal : {0, 10000}) {
    write_file(dir / "a.jpg", phone_jpeg(upright(), focal));
    EXPECT_FALSE(load_photo(dir / "a.jpg").focal_35mm_mm.has_value());
  }
}

TEST(Images, GreySixteenBitAlphaPngAndTiffBecomeEightBitColour) {
  const TempDir dir;
  cv::Mat grey(80, 80, CV_8UC1, cv::Scalar(100)), deep(80, 80, CV_16UC3, cv::Scalar::all(25700)),
      alpha(80, 80, CV_8UC4, cv::Scalar(100, 100, 100, 9));
  for (const auto& [name, picture] : {std::pair<const char*, cv::Mat>{"a.png", grey},
                                      {"b.png", deep},
                                      {"c.png", alpha},
                                      {"d.tif", grey},
                                      {"e.tiff", deep}}) {
    write_file(dir / name, encoded(std::filesystem::path(name).extension(), picture));
    const Photo photo = load_photo(dir / name);
    EXPECT_EQ(photo.bgr.type(), CV_8UC3) << name;
    EXPECT_NEAR(photo.bgr.at<cv::Vec3b>(40, 40)[1], 100, 1) << name;
  }
}

// heif-enc of libheif's examples (Debian: libheif-examples) makes the file.
TEST(Images, HeicIsReadUpright) {
  const TempDir dir;
  write_file(dir / "a.png", encoded(".png", upright()));
  const std::string command =
      "heif-enc -q 95 -o " + (dir / "a.heic").string() + " " + (dir / "a.png").string() + " >/dev/null 2>&1";
  ASSERT_EQ(std::system(command.c_str()), 0) << "heif-enc is missing: install libheif-examples";
  const Photo photo = load_photo(dir / "a.heic");
  ASSERT_EQ(photo.bgr.size(), cv::Size(120, 80));
  EXPECT_LT(cv::norm(photo.bgr, upright(), cv::NORM_L1) / photo.bgr.total(), 20.0);
}

struct BadFile {
  const char* name;
  std::string bytes;
  const char* says;
};

std::vector<BadFile> bad_files() {
  const std::string jpeg = encoded(".jpg", cv::Mat(600, 800, CV_8UC3, cv::Scalar(90, 120, 60)));
  std::string huge = encoded(".png", upright());
  huge[16] = 0, huge[17] = 0, huge[18] = 0x4E, huge[19] = 0x20;  // 20000 wide
  huge[20] = 0, huge[21] = 0, huge[22] = 0x27, huge[23] = 0x10;  // 10000 high
  return {{"empty.jpg", "", "empty"},
          {"text.jpg", "this is no picture, only words and more words", "not a picture"},
          {"cut.jpg", jpeg.substr(0, jpeg.size() / 2), "cut off"},
          {"tiny.png", encoded(".png", cv::Mat(1, 1, CV_8UC3, cv::Scalar::all(9))), "too small"},
          {"bomb.png", huge, "too large"},
          {"broken.png", encoded(".png", upright()).substr(0, 60), "decoded"},
          {"broken.heic",
           std::string("\0\0\0\x18"
                       "ftypheic",
                       12) +
               std::string(40, 'x'),
           "HEIC"}};
}

TEST(Images, EveryBadFileHasItsOneMessage) {
  const TempDir dir;
  for (const BadFile& bad : bad_files()) {
    write_file(dir / bad.name, bad.bytes);
    try {
      load_photo(dir / bad.name);
      ADD_FAILURE() << bad.name << " was accepted";
    } catch (const InputError& e) {
      EXPECT_NE(std::string(e.what()).find(bad.says), std::string::npos) << bad.name << ": " << e.what();
      EXPECT_NE(std::string(e.what()).find(bad.name), std::string::npos) << e.what();
    }
  }
}

TEST(Images, MissingFileAndFolderAreNamed) {
  const TempDir dir;
  EXPECT_THROW(load_photo(dir / "none.jpg"), InputError);
  EXPECT_THROW(load_photo(dir.path()), InputError);
}

// FIPS 180-4 example: SHA-256 of "abc".
TEST(Images, Sha256MatchesThePublishedExample) {
  EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

}  // namespace
}  // namespace sheetloupe
