#include "sheetloupe/io/images.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/io/demo.h"
#include "support/odd_photos.h"
#include "support/temp_dir.h"

namespace sheetloupe {
namespace {

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

// Pixels without any order, so that files are as long as a photo's.
cv::Mat noise(int width, int height) {
  cv::Mat picture(height, width, CV_8UC3);
  std::mt19937_64 bits(7);
  for (auto it = picture.begin<cv::Vec3b>(); it != picture.end<cv::Vec3b>(); ++it) {
    const std::uint64_t b = bits();
    *it = cv::Vec3b(b & 255U, b >> 8U & 255U, b >> 16U & 255U);
  }
  return picture;
}

TEST(Images, PreviewAndTrailingClipDoNotMakeAWholePhotoLookCut) {
  const std::string whole = jpeg_with_app2(encoded(".jpg", noise(320, 240)), encoded(".jpg", noise(160, 160)));
  EXPECT_EQ(photo_from_bytes(whole, "front.jpg").bgr.size(), cv::Size(320, 240));
  EXPECT_EQ(photo_from_bytes(whole + std::string(100000, 'x'), "front.jpg").bgr.size(), cv::Size(320, 240));
}

// Pillow writes both (Debian: python3-pil); colours must come out as they went in.
TEST(Images, CmykAndProgressiveJpegsKeepTheirColours) {
  const TempDir dir;
  write_file(dir / "a.png", encoded(".png", upright()));
  const std::string script = "from PIL import Image; u = Image.open('" + (dir / "a.png").string() +
                             "'); u.convert('CMYK').save('" + (dir / "cmyk.jpg").string() + "', quality=95); u.save('" +
                             (dir / "steps.jpg").string() + "', progressive=True)";
  ASSERT_EQ(std::system(("/usr/bin/python3 -c \"" + script + "\"").c_str()), 0) << "install python3-pil";
  for (const char* name : {"cmyk.jpg", "steps.jpg"}) {
    const Photo photo = load_photo(dir / name);
    ASSERT_EQ(photo.bgr.size(), cv::Size(120, 80)) << name;
    EXPECT_LT(cv::norm(photo.bgr, upright(), cv::NORM_L1) / photo.bgr.total(), 12.0) << name;
  }
}

TEST(Images, MessagesOfTheHeicLibraryStayOnOneLine) {
  const TempDir dir;
  write_file(dir / "a.png", encoded(".png", upright()));
  const std::string command =
      "heif-enc -o " + (dir / "a.heic").string() + " " + (dir / "a.png").string() + " >/dev/null 2>&1";
  ASSERT_EQ(std::system(command.c_str()), 0) << "heif-enc is missing: install libheif-examples";
  const std::string whole = read_file(dir / "a.heic");
  for (const double share : {0.2, 0.5, 0.9}) {
    try {
      photo_from_bytes(whole.substr(0, static_cast<std::size_t>(share * static_cast<double>(whole.size()))), "a.heic");
      ADD_FAILURE() << share;
    } catch (const InputError& e) {
      EXPECT_EQ(std::string(e.what()).find('\n'), std::string::npos) << e.what();
    }
  }
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
  const std::string preview = encoded(".jpg", noise(160, 160)), scan = encoded(".jpg", noise(320, 240));
  const std::string whole = jpeg_with_app2(scan, preview);
  std::string zeros = scan;  // a copy that broke off, its space already set aside
  std::fill(zeros.begin() + static_cast<std::ptrdiff_t>(zeros.size() / 2), zeros.end(), '\0');
  std::string wiped = scan, scribbled = scan;  // a block in the middle that is not what was stored
  std::fill_n(wiped.begin() + static_cast<std::ptrdiff_t>(wiped.size() / 2), 512, '\0');
  std::copy_n(scan.begin() + 2000, 512, scribbled.begin() + static_cast<std::ptrdiff_t>(scan.size() / 2));
  const std::string png = encoded(".png", noise(320, 240)), tiff = tiff_file(noise(320, 240), 1);
  return {{"empty.jpg", "", "empty"},
          {"cut-behind-preview.jpg", whole.substr(0, preview.size() + (whole.size() - preview.size()) / 2), "cut off"},
          {"zeros.jpg", zeros, "cut off"},
          {"wiped.jpg", wiped, "damaged data"},
          {"scribbled.jpg", scribbled, "damaged data"},
          {"cut.png", png.substr(0, png.size() / 2), "cut off"},
          {"cut.tif", tiff.substr(0, tiff.size() / 2), "header is damaged"},
          {"signed.tif", tiff_of_signed_numbers(80, 80), "no camera writes"},
          {"no-frame.jpg", std::string("\xFF\xD8\xFF\xE0\0\x10", 6) + std::string(40, '\0') + "\xFF\xD9",
           "header is damaged"},
          {"text.jpg", "this is no picture, only words and more words", "not a picture"},
          {"cut.jpg", jpeg.substr(0, jpeg.size() / 2), "cut off"},
          {"tiny.png", encoded(".png", cv::Mat(1, 1, CV_8UC3, cv::Scalar::all(9))), "too small"},
          {"bomb.png", huge, "too large"},
          {"broken.png", encoded(".png", upright()).substr(0, 60), "cut off"},
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

// What the process has asked for at the most, whether it was written to or not (proc(5): VmPeak), MB.
double most_asked_mb() {
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);) {
    if (line.starts_with("VmPeak:")) return std::stod(line.substr(7)) / 1024;
  }
  return 0;
}

// Found by fuzzing: 324 bytes with an eXIf chunk that calls itself 1.7 GB long.
TEST(Images, AChunkThatClaimsMoreThanItsFileAsksForNoMemory) {
  std::string png = encoded(".png", upright());
  const std::string claim("\x69\0\0\0eXIfMM\0*", 12);
  png.insert(33, claim);  // behind the header chunk
  const double before = most_asked_mb();
  ASSERT_GT(before, 0);
  EXPECT_THROW(photo_from_bytes(png, "front.png"), InputError);
  EXPECT_LT(most_asked_mb() - before, 500);
}

// Some cameras fill up a file before its end marker; the picture is whole.
TEST(Images, PaddingBeforeTheEndOfAJpegHarmsNothing) {
  std::string padded = encoded(".jpg", noise(320, 240));
  const cv::Mat whole = photo_from_bytes(padded, "a.jpg").bgr;
  padded.insert(padded.size() - 2, 37, '\0');
  EXPECT_EQ(cv::norm(photo_from_bytes(padded, "a.jpg").bgr, whole, cv::NORM_INF), 0);
}

// FIPS 180-4 example: SHA-256 of "abc".
TEST(Images, Sha256MatchesThePublishedExample) {
  EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

}  // namespace
}  // namespace sheetloupe
