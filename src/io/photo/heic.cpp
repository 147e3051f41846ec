#include "io/photo/heic.h"

#include <libheif/heif.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "sheetloupe/errors.h"

namespace sheetloupe {
namespace {

template <auto Free>
struct Freed {
  template <class T>
  void operator()(T* pointer) const {
    Free(pointer);
  }
};
using Context = std::unique_ptr<heif_context, Freed<heif_context_free>>;
using Handle = std::unique_ptr<heif_image_handle, Freed<heif_image_handle_release>>;
using Image = std::unique_ptr<heif_image, Freed<heif_image_release>>;

void require(const heif_error& error, const std::filesystem::path& path) {
  if (error.code == heif_error_Ok) return;
  // The library's text may end in a line break; a message is one line.
  std::string found = error.message ? error.message : "";
  std::replace(found.begin(), found.end(), '\n', ' ');
  found.erase(found.find_last_not_of(" .") + 1);
  throw InputError({"the HEIC photo cannot be read", path.string(), found, "",
                    "Send the photo again from the phone, or save it as JPEG"});
}

std::string exif_block(heif_image_handle* handle) {
  heif_item_id id = 0;
  if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) != 1) return {};
  std::string block(heif_image_handle_get_metadata_size(handle, id), '\0');
  if (block.size() < 4 || heif_image_handle_get_metadata(handle, id, block.data()).code != heif_error_Ok) return {};
  // Four bytes tell how far the TIFF header lies behind them (ISO/IEC 23008-12, annex A).
  const auto* b = reinterpret_cast<const unsigned char*>(block.data());
  const std::size_t skip = 4 + (std::size_t{b[0]} << 24U | std::size_t{b[1]} << 16U | std::size_t{b[2]} << 8U | b[3]);
  if (skip > block.size()) return {};
  return std::string("Exif\0\0", 6) + block.substr(skip);
}

}  // namespace

HeicPicture decode_heic(std::string_view bytes, const std::filesystem::path& path, double max_megapixels) {
  const Context context(heif_context_alloc());
  require(heif_context_read_from_memory_without_copy(context.get(), bytes.data(), bytes.size(), nullptr), path);
  heif_image_handle* raw_handle = nullptr;
  require(heif_context_get_primary_image_handle(context.get(), &raw_handle), path);
  const Handle handle(raw_handle);
  const int width = heif_image_handle_get_width(handle.get()), height = heif_image_handle_get_height(handle.get());
  if (width * static_cast<double>(height) > max_megapixels * 1e6) {
    throw InputError({"the photo is too large", path.string(),
                      std::to_string(width) + " x " + std::to_string(height) + " px",
                      "at most " + std::to_string(std::lround(max_megapixels)) + " megapixels",
                      "Photograph at the phone's normal resolution"});
  }
  heif_image* raw_image = nullptr;
  require(heif_decode_image(handle.get(), &raw_image, heif_colorspace_RGB, heif_chroma_interleaved_RGB, nullptr), path);
  const Image image(raw_image);
  int stride = 0;
  const unsigned char* plane = heif_image_get_plane_readonly(image.get(), heif_channel_interleaved, &stride);
  HeicPicture picture;
  const cv::Mat rgb(heif_image_get_height(image.get(), heif_channel_interleaved),
                    heif_image_get_width(image.get(), heif_channel_interleaved), CV_8UC3,
                    const_cast<unsigned char*>(plane), static_cast<std::size_t>(stride));
  cv::cvtColor(rgb, picture.bgr, cv::COLOR_RGB2BGR);
  const int raw_width = heif_image_handle_get_ispe_width(handle.get());
  picture.turned_quarter = raw_width > 0 && raw_width != picture.bgr.cols && raw_width == picture.bgr.rows;
  picture.exif = exif_block(handle.get());
  return picture;
}

}  // namespace sheetloupe
