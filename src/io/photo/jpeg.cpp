#include "io/photo/jpeg.h"

#include <csetjmp>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <new>
// The library's header needs the two before it.
#include <jpeglib.h>
// Its warnings, of which some depend on what the library was built with.
#include <jerror.h>

namespace sheetloupe {
namespace {

// The library leaves an error by calling a function that must not return; its words about it are not printed.
struct Errors {
  jpeg_error_mgr base{};  // first: the library hands back a pointer to it
  std::jmp_buf back{};
  bool broken = false;      // a picture came out, but not the one that was stored
  int left_before_end = 0;  // bytes between the last code and the end marker

  Errors() {
    jpeg_std_error(&base);
    base.error_exit = [](j_common_ptr info) { std::longjmp(reinterpret_cast<Errors*>(info->err)->back, 1); };
    base.output_message = [](j_common_ptr) {};
    base.emit_message = [](j_common_ptr info, int level) {
      if (level < 0) reinterpret_cast<Errors*>(info->err)->weigh_warning();
    };
  }

 private:
  // Broken codes are no error to the library: it goes on with grey, or with whatever the next bits happen to say.
  void weigh_warning() {
    switch (base.msg_code) {
      case JWRN_HIT_MARKER:
      case JWRN_HUFF_BAD_CODE:
      case JWRN_ARITH_BAD_CODE:
      case JWRN_MUST_RESYNC:
      case JWRN_JPEG_EOF:
        broken = true;
        break;
      case JWRN_EXTRANEOUS_DATA:
        if (base.msg_parm.i[1] == JPEG_EOI)
          left_before_end = base.msg_parm.i[0];
        else
          broken = true;
        break;
      default:  // odd headers harm nothing
        break;
    }
  }
};

// Cameras pad with one value; codes that were not asked for tell that earlier ones were misread.
bool is_padding(std::string_view bytes) {
  return bytes.find_first_not_of(bytes.substr(0, 1)) == std::string_view::npos;
}

class Reader {
 public:
  Reader() { info_.err = &errors_.base; }
  ~Reader() { jpeg_destroy_decompress(&info_); }
  Reader(const Reader&) = delete;
  Reader& operator=(const Reader&) = delete;

  // Four channels (ink) or three. False: damaged.
  bool read(std::string_view bytes, cv::Mat& picture) {
    if (setjmp(errors_.back)) return false;
    jpeg_create_decompress(&info_);
    jpeg_mem_src(&info_, reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
    jpeg_read_header(&info_, TRUE);
    const bool ink = info_.num_components == 4;
    info_.out_color_space = ink ? JCS_CMYK : JCS_EXT_BGR;
    jpeg_start_decompress(&info_);
    picture.create(static_cast<int>(info_.output_height), static_cast<int>(info_.output_width),
                   ink ? CV_8UC4 : CV_8UC3);
    while (info_.output_scanline < info_.output_height) {
      JSAMPROW row = picture.ptr(static_cast<int>(info_.output_scanline));
      jpeg_read_scanlines(&info_, &row, 1);
    }
    jpeg_finish_decompress(&info_);
    const std::size_t end = bytes.size() - info_.src->bytes_in_buffer - 2;  // where the end marker stands
    const auto left = static_cast<std::size_t>(errors_.left_before_end);
    return !errors_.broken && left <= end && is_padding(bytes.substr(end - left, left));
  }

 private:
  Errors errors_;
  jpeg_decompress_struct info_{};
};

// Programs that write ink store it as what is left of the light (Adobe's way).
cv::Mat bgr_of_ink(const cv::Mat& ink) {
  cv::Mat3b bgr(ink.size());
  for (int r = 0; r < ink.rows; ++r) {
    const auto* from = ink.ptr<cv::Vec4b>(r);
    cv::Vec3b* to = bgr[r];
    for (int c = 0; c < ink.cols; ++c) {
      const int black = from[c][3];
      for (int k = 0; k < 3; ++k)
        to[c][2 - k] = cv::saturate_cast<unsigned char>(black - ((255 - from[c][k]) * black >> 8));
    }
  }
  return bgr;
}

class Writer {
 public:
  Writer() { info_.err = &errors_.base; }
  ~Writer() {
    jpeg_destroy_compress(&info_);
    std::free(bytes_);
  }
  Writer(const Writer&) = delete;
  Writer& operator=(const Writer&) = delete;

  bool write(const cv::Mat& picture, int quality) {
    if (setjmp(errors_.back)) return false;
    jpeg_create_compress(&info_);
    jpeg_mem_dest(&info_, &bytes_, &size_);
    info_.image_width = static_cast<unsigned>(picture.cols);
    info_.image_height = static_cast<unsigned>(picture.rows);
    info_.input_components = 3;
    info_.in_color_space = JCS_EXT_BGR;
    jpeg_set_defaults(&info_);
    jpeg_set_quality(&info_, quality, TRUE);
    jpeg_start_compress(&info_, TRUE);
    while (info_.next_scanline < info_.image_height) {
      auto* row = const_cast<JSAMPROW>(picture.ptr(static_cast<int>(info_.next_scanline)));
      jpeg_write_scanlines(&info_, &row, 1);
    }
    jpeg_finish_compress(&info_);
    return true;
  }

  std::string bytes() const { return {reinterpret_cast<const char*>(bytes_), size_}; }

 private:
  Errors errors_;
  jpeg_compress_struct info_{};
  unsigned char* bytes_ = nullptr;
  unsigned long size_ = 0;  // the library's type
};

}  // namespace

cv::Mat decode_jpeg(std::string_view bytes) {
  Reader reader;
  cv::Mat picture;
  if (!reader.read(bytes, picture)) return {};
  return picture.channels() == 4 ? bgr_of_ink(picture) : picture;
}

std::string jpeg_bytes(const cv::Mat& picture, int quality) {
  CV_Assert(!picture.empty() && picture.type() == CV_8UC3);
  Writer writer;
  if (!writer.write(picture, quality)) throw std::bad_alloc();  // nothing else can fail in memory
  return writer.bytes();
}

}  // namespace sheetloupe
