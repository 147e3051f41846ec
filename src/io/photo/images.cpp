#include "sheetloupe/io/images.h"

#include <openssl/evp.h>

#include <algorithm>
#include <array>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

#include "io/photo/decode.h"
#include "io/photo/exif.h"
#include "io/photo/heic.h"
#include "io/photo/jpeg.h"
#include "io/photo/picture_size.h"
#include "sheetloupe/errors.h"
#include "sheetloupe/io/atomic_file.h"

namespace sheetloupe {
namespace {

namespace fs = std::filesystem;
constexpr int kLeastSide = 64;

[[noreturn]] void refuse(const fs::path& path, const std::string& what, const std::string& found,
                         const std::string& expected, const std::string& remedy) {
  throw InputError({what, path.string(), found, expected, remedy});
}

// EXIF orientation (Exif 2.32, tag 274): how the stored picture is turned and mirrored to stand upright.
cv::Mat upright(const cv::Mat& stored, int orientation) {
  cv::Mat picture = stored;
  switch (orientation) {
    case 2:
      cv::flip(stored, picture, 1);
      break;
    case 3:
      cv::rotate(stored, picture, cv::ROTATE_180);
      break;
    case 4:
      cv::flip(stored, picture, 0);
      break;
    case 5:
      cv::transpose(stored, picture);
      break;
    case 6:
      cv::rotate(stored, picture, cv::ROTATE_90_CLOCKWISE);
      break;
    case 7:  // about the other diagonal
      cv::transpose(stored, picture);
      cv::flip(picture, picture, -1);
      break;
    case 8:
      cv::rotate(stored, picture, cv::ROTATE_90_COUNTERCLOCKWISE);
      break;
    default:
      break;
  }
  return picture;
}

void check_header(const fs::path& path, std::string_view bytes, const PictureHeader& header) {
  if (bytes.empty()) refuse(path, "the file is empty", "0 bytes", "a photo", "Copy the photo again");
  if (header.format == PictureFormat::unknown) {
    refuse(path, "this is not a picture", "other content under a photo's name", "JPEG, PNG, TIFF or HEIC",
           "Copy the photo again from the phone");
  }
  if (!header.megapixels && header.format != PictureFormat::heic) {  // libheif says it before it decodes
    refuse(path, "the photo's header is damaged", "no picture size in it", "a whole file", "Copy the photo again");
  }
  if (header.megapixels && *header.megapixels > kMaxMegapixels) {
    refuse(path, "the photo is too large", std::to_string(std::lround(*header.megapixels)) + " megapixels",
           "at most " + std::to_string(std::lround(kMaxMegapixels)), "Photograph at the phone's normal resolution");
  }
  const bool whole = header.format == PictureFormat::jpeg  ? jpeg_is_whole(bytes)
                     : header.format == PictureFormat::png ? png_is_whole(bytes)
                                                           : true;
  if (!whole)
    refuse(path, "the photo is cut off", "no end of the picture's data", "a whole file", "Copy the photo again");
}

cv::Mat decode(const fs::path& path, std::string_view bytes, PictureFormat format) {
  cv::Mat picture;
  try {
    picture = format == PictureFormat::jpeg  ? decode_jpeg(bytes)
              : format == PictureFormat::png ? decode_png(bytes)
                                             : decode_tiff(bytes);
  } catch (const std::domain_error& e) {
    refuse(path, "the photo's pixels are of a kind that no camera writes", e.what(), "8 or 16 bits a channel",
           "Export the photo again as JPEG or PNG");
  } catch (const cv::Exception&) {  // a size that no picture has
    picture.release();
  }
  if (picture.empty())
    refuse(path, "the photo cannot be decoded", "damaged data", "a whole file", "Copy the photo again");
  return picture;
}

}  // namespace

bool is_photo_name(const fs::path& path) {
  std::string ending = path.extension().string();
  std::transform(ending.begin(), ending.end(), ending.begin(), [](unsigned char c) { return std::tolower(c); });
  constexpr std::array kEndings = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif"};
  return std::any_of(kEndings.begin(), kEndings.end(), [&](const char* e) { return ending == e; });
}

Photo load_photo(const fs::path& path) { return photo_from_bytes(read_file(path), path); }

Photo photo_from_bytes(std::string_view bytes, const fs::path& path) {
  const PictureHeader header = read_picture_header(bytes);
  check_header(path, bytes, header);
  Photo photo;
  photo.file = path.filename().string();
  photo.sha256 = sha256_hex(bytes);
  ExifFacts exif;
  if (header.format == PictureFormat::heic) {
    HeicPicture heic = decode_heic(bytes, path, kMaxMegapixels);
    exif = read_exif(heic.exif);
    photo.bgr = heic.bgr;  // upright already: the EXIF orientation repeats what the file's own rotation did
    photo.turned_quarter = heic.turned_quarter;
  } else {
    exif = read_exif(exif_part(bytes, header.format));
    const int orientation = header.format == PictureFormat::tiff ? header.tiff_orientation : exif.orientation;
    photo.bgr = upright(decode(path, bytes, header.format), orientation);
    photo.turned_quarter = orientation >= 5;
  }
  photo.focal_35mm_mm = exif.focal_35mm_mm;
  photo.taken = exif.taken;
  if (std::min(photo.bgr.cols, photo.bgr.rows) < kLeastSide) {
    refuse(path, "the photo is too small",
           std::to_string(photo.bgr.cols) + " x " + std::to_string(photo.bgr.rows) + " px",
           "at least " + std::to_string(kLeastSide) + " px a side", "Use the phone's full resolution");
  }
  return photo;
}

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned length = 0;
  EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr);
  std::string hex;
  for (unsigned i = 0; i < length; ++i) {
    constexpr char kDigits[] = "0123456789abcdef";
    hex += kDigits[digest[i] >> 4U];
    hex += kDigits[digest[i] & 15U];
  }
  return hex;
}

}  // namespace sheetloupe
