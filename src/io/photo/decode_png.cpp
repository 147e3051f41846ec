#include <png.h>

#include <cstring>
#include <vector>

#include "io/photo/decode.h"

namespace sheetloupe {
namespace {

struct Source {
  std::string_view rest;
};

void take(png_structp png, png_bytep to, std::size_t count) {
  auto& source = *static_cast<Source*>(png_get_io_ptr(png));
  if (count > source.rest.size()) png_error(png, "cut off");
  std::memcpy(to, source.rest.data(), count);
  source.rest.remove_prefix(count);
}

class Reader {
 public:
  Reader()
      : png_(png_create_read_struct(
            PNG_LIBPNG_VER_STRING, nullptr, [](png_structp png, png_const_charp) { png_longjmp(png, 1); },
            [](png_structp, png_const_charp) {})),
        info_(png_ ? png_create_info_struct(png_) : nullptr) {}
  ~Reader() { png_destroy_read_struct(&png_, &info_, nullptr); }
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;

  bool read(std::string_view bytes, cv::Mat& picture) {
    if (!info_) return false;
    source_.rest = bytes;
    if (setjmp(png_jmpbuf(png_))) return false;
    png_set_read_fn(png_, &source_, take);
    png_read_info(png_, info_);
    // Whatever is stored comes out as 8 bits of blue, green and red.
    png_set_palette_to_rgb(png_);
    png_set_expand_gray_1_2_4_to_8(png_);
    png_set_scale_16(png_);
    png_set_strip_alpha(png_);
    png_set_gray_to_rgb(png_);
    png_set_bgr(png_);
    png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    picture.create(static_cast<int>(png_get_image_height(png_, info_)),
                   static_cast<int>(png_get_image_width(png_, info_)), CV_8UC3);
    if (png_get_rowbytes(png_, info_) != picture.cols * picture.elemSize()) return false;
    rows_.clear();
    for (int r = 0; r < picture.rows; ++r) rows_.push_back(picture.ptr(r));
    png_read_image(png_, rows_.data());
    png_read_end(png_, nullptr);
    return true;
  }

 private:
  png_structp png_;
  png_infop info_;
  Source source_;
  std::vector<png_bytep> rows_;
};

}  // namespace

cv::Mat decode_png(std::string_view bytes) {
  Reader reader;
  cv::Mat picture;
  return reader.read(bytes, picture) ? picture : cv::Mat();
}

}  // namespace sheetloupe
