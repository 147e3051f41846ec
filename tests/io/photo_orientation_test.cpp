// Every format stands upright exactly once, for all eight orientations of the Exif standard.
#include <gtest/gtest.h>
#include <libheif/heif.h>

#include <memory>
#include <opencv2/imgcodecs.hpp>

#include "sheetloupe/io/images.h"
#include "support/odd_photos.h"

namespace sheetloupe {
namespace {

void expect_upright(const Photo& photo, double mean_difference) {
  ASSERT_EQ(photo.bgr.size(), cv::Size(120, 80));
  EXPECT_LE(cv::norm(photo.bgr, upright(), cv::NORM_L1) / (3.0 * static_cast<double>(photo.bgr.total())),
            mean_difference);
}

class Orientation : public testing::TestWithParam<int> {};

TEST_P(Orientation, OfAJpegIsAppliedOnce) {
  const int o = GetParam();
  const Photo photo =
      photo_from_bytes(jpeg_with_exif(encoded(".jpg", stored_under(upright(), o)), exif_block(o)), "front.jpg");
  expect_upright(photo, 4.0);  // JPEG's own loss at the colour borders
  EXPECT_EQ(photo.turned_quarter, o >= 5);
}

TEST_P(Orientation, OfAPngIsAppliedOnce) {
  const int o = GetParam();
  const Photo photo =
      photo_from_bytes(png_with_exif(encoded(".png", stored_under(upright(), o)), exif_block(o)), "front.png");
  expect_upright(photo, 0.0);
  EXPECT_EQ(photo.turned_quarter, o >= 5);
}

TEST_P(Orientation, OfATiffIsAppliedOnce) {
  const int o = GetParam();
  const Photo photo = photo_from_bytes(tiff_file(stored_under(upright(), o), o), "front.tif");
  expect_upright(photo, 0.0);
  EXPECT_EQ(photo.turned_quarter, o >= 5);
}

template <auto Free>
struct Freed {
  template <class T>
  void operator()(T* pointer) const {
    Free(pointer);
  }
};

heif_error append(heif_context*, const void* data, std::size_t size, void* out) {
  static_cast<std::string*>(out)->append(static_cast<const char*>(data), size);
  return {heif_error_Ok, heif_suberror_Unspecified, "ok"};
}

// As phones write it: the file's own rotation and mirroring (irot, imir), and the same orientation again in EXIF.
std::string heic_file(const cv::Mat& stored, int orientation) {
  const std::unique_ptr<heif_context, Freed<heif_context_free>> context(heif_context_alloc());
  heif_encoder* raw_encoder = nullptr;
  if (heif_context_get_encoder_for_format(context.get(), heif_compression_HEVC, &raw_encoder).code != heif_error_Ok)
    return {};
  const std::unique_ptr<heif_encoder, Freed<heif_encoder_release>> encoder(raw_encoder);
  heif_encoder_set_lossy_quality(encoder.get(), 95);
  heif_image* raw_image = nullptr;
  heif_image_create(stored.cols, stored.rows, heif_colorspace_RGB, heif_chroma_interleaved_RGB, &raw_image);
  const std::unique_ptr<heif_image, Freed<heif_image_release>> image(raw_image);
  heif_image_add_plane(image.get(), heif_channel_interleaved, stored.cols, stored.rows, 8);
  int stride = 0;
  unsigned char* plane = heif_image_get_plane(image.get(), heif_channel_interleaved, &stride);
  for (int r = 0; r < stored.rows; ++r) {
    for (int c = 0; c < stored.cols; ++c) {
      for (int k = 0; k < 3; ++k) plane[r * stride + 3 * c + k] = stored.at<cv::Vec3b>(r, c)[2 - k];
    }
  }
  const std::unique_ptr<heif_encoding_options, Freed<heif_encoding_options_free>> options(
      heif_encoding_options_alloc());
  options->image_orientation = static_cast<heif_orientation>(orientation);
  heif_image_handle* raw_handle = nullptr;
  if (heif_context_encode_image(context.get(), image.get(), encoder.get(), options.get(), &raw_handle).code !=
      heif_error_Ok)
    return {};
  const std::unique_ptr<heif_image_handle, Freed<heif_image_handle_release>> handle(raw_handle);
  const std::string block = exif_block(orientation);
  heif_context_add_exif_metadata(context.get(), handle.get(), block.data(), static_cast<int>(block.size()));
  std::string file;
  heif_writer writer{1, append};
  heif_context_write(context.get(), &writer, &file);
  // The size box holds the picture before it is turned (ISO/IEC 23008-12, 6.5.3), as in phones' files; libheif 1.15
  // writes it turned.
  const std::size_t box = file.find("ispe");
  if (box == std::string::npos || box + 16 > file.size()) return {};
  const auto big_endian = [](int value) {
    return std::string{0, 0, static_cast<char>(value >> 8), static_cast<char>(value & 255)};
  };
  file.replace(box + 8, 8, big_endian(stored.cols) + big_endian(stored.rows));
  return file;
}

TEST_P(Orientation, OfAHeicIsAppliedOnceThoughTheFileTellsItTwice) {
  const int o = GetParam();
  const std::string file = heic_file(stored_under(upright(), o), o);
  ASSERT_FALSE(file.empty()) << "libheif cannot encode: install libheif-dev with its x265 encoder";
  const Photo photo = photo_from_bytes(file, "front.heic");
  expect_upright(photo, 6.0);  // colours at half resolution, and the coder's loss
  EXPECT_EQ(photo.turned_quarter, o >= 5);
}

INSTANTIATE_TEST_SUITE_P(AllEight, Orientation, testing::Range(1, 9));

TEST(OrientationOutOfRange, CountsAsUpright) {
  for (const int o : {0, 9, 255}) {
    expect_upright(photo_from_bytes(jpeg_with_exif(encoded(".jpg", upright()), exif_block(o)), "front.jpg"), 4.0);
  }
}

}  // namespace
}  // namespace sheetloupe
