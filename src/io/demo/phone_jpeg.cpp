#include <libexif/exif-data.h>

#include <cstdlib>
#include <cstring>
#include <memory>

#include "io/photo/jpeg.h"
#include "sheetloupe/io/demo.h"

namespace sheetloupe {
namespace {

std::string exif_block(int focal_35mm_mm) {
  const std::unique_ptr<ExifData, decltype(&exif_data_unref)> data(exif_data_new(), &exif_data_unref);
  exif_data_set_option(data.get(), EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
  exif_data_set_data_type(data.get(), EXIF_DATA_TYPE_COMPRESSED);
  exif_data_set_byte_order(data.get(), EXIF_BYTE_ORDER_INTEL);
  exif_data_fix(data.get());
  ExifEntry* entry = exif_entry_new();
  exif_content_add_entry(data->ifd[EXIF_IFD_EXIF], entry);
  exif_entry_initialize(entry, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM);
  entry->tag = EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM;
  entry->format = EXIF_FORMAT_SHORT;
  entry->components = 1;
  if (entry->size < 2) {
    entry->data = static_cast<unsigned char*>(std::realloc(entry->data, 2));
    entry->size = 2;
  }
  exif_set_short(entry->data, EXIF_BYTE_ORDER_INTEL, static_cast<ExifShort>(focal_35mm_mm));
  exif_entry_unref(entry);
  unsigned char* bytes = nullptr;
  unsigned size = 0;
  exif_data_save_data(data.get(), &bytes, &size);
  std::string block(reinterpret_cast<char*>(bytes), size);
  std::free(bytes);
  return block;
}

}  // namespace

std::string phone_jpeg(const cv::Mat& bgr, int focal_35mm_mm, int quality) {
  const std::string jpeg = jpeg_bytes(bgr, quality);
  const std::string exif = exif_block(focal_35mm_mm);
  // APP1 right behind the start-of-image marker; its length counts itself (Exif 2.32, 4.7.2).
  const std::size_t length = exif.size() + 2;
  std::string bytes("\xFF\xD8\xFF\xE1", 4);
  bytes += static_cast<char>(length >> 8U);
  bytes += static_cast<char>(length & 255U);
  bytes += exif;
  bytes.append(jpeg, 2);
  return bytes;
}

}  // namespace sheetloupe
