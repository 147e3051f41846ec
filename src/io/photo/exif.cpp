#include "io/photo/exif.h"

#include <libexif/exif-data.h>

#include <memory>

namespace sheetloupe {
namespace {

using Data = std::unique_ptr<ExifData, decltype(&exif_data_unref)>;

std::optional<int> short_value(ExifData* data, ExifIfd ifd, ExifTag tag) {
  const ExifEntry* entry = exif_content_get_entry(data->ifd[ifd], tag);
  if (!entry || entry->format != EXIF_FORMAT_SHORT || entry->components < 1 || entry->size < 2) return {};
  return exif_get_short(entry->data, exif_data_get_byte_order(data));
}

// "2026:03:02 14:05:00" to ISO 8601.
std::optional<std::string> date_value(ExifData* data) {
  const ExifEntry* entry = exif_content_get_entry(data->ifd[EXIF_IFD_EXIF], EXIF_TAG_DATE_TIME_ORIGINAL);
  if (!entry) entry = exif_content_get_entry(data->ifd[EXIF_IFD_0], EXIF_TAG_DATE_TIME);
  if (!entry || entry->format != EXIF_FORMAT_ASCII || entry->size < 19) return {};
  std::string text(reinterpret_cast<const char*>(entry->data), 19);
  constexpr std::string_view kPattern = "dddd:dd:dd dd:dd:dd";
  for (std::size_t i = 0; i < kPattern.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (kPattern[i] == 'd' ? !digit : text[i] != kPattern[i]) return {};
  }
  // "0000:00:00" and the like stand for a clock that was never set.
  const int year = std::stoi(text.substr(0, 4)), month = std::stoi(text.substr(5, 2)),
            day = std::stoi(text.substr(8, 2));
  if (year < 1990 || month < 1 || month > 12 || day < 1 || day > 31) return {};
  text[4] = text[7] = '-';
  text[10] = 'T';
  return text;
}

}  // namespace

// A PNG's eXIf chunk holds the bare TIFF block (PNG, third edition, 11.3.3.3).
std::string exif_part(std::string_view file, PictureFormat format) {
  if (format == PictureFormat::jpeg) return std::string(file);
  const std::string_view block = format == PictureFormat::png    ? png_chunk(file, "eXIf").value_or("")
                                 : format == PictureFormat::tiff ? file
                                                                 : std::string_view();
  return block.empty() ? std::string() : std::string("Exif\0\0", 6) + std::string(block);
}

ExifFacts read_exif(std::string_view bytes) {
  ExifFacts facts;
  const Data data(exif_data_new_from_data(reinterpret_cast<const unsigned char*>(bytes.data()),
                                          static_cast<unsigned>(bytes.size())),
                  &exif_data_unref);
  if (!data) return facts;
  const int orientation = short_value(data.get(), EXIF_IFD_0, EXIF_TAG_ORIENTATION).value_or(1);
  if (orientation >= 1 && orientation <= 8) facts.orientation = orientation;
  const int focal = short_value(data.get(), EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM).value_or(0);
  // Phones lie between 13 mm (ultra-wide) and about 250 mm (periscope); 0 means "unknown" in the standard.
  if (focal >= 8 && focal <= 600) facts.focal_35mm_mm = focal;
  facts.taken = date_value(data.get());
  return facts;
}

}  // namespace sheetloupe
