#include "io/page/embedded_pictures.h"

#include <opencv2/imgproc.hpp>

#include "io/photo/decode.h"
#include "io/photo/jpeg.h"
#include "io/photo/picture_size.h"
#include "sheetloupe/io/atomic_file.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe::page {
namespace {

namespace fs = std::filesystem;

// Bytes of JPEG; base64 makes four of three, and text and shapes need about 0.7 MB of the 6.
constexpr std::size_t kFrontBytes = 2'600'000, kBackBytes = 700'000, kEdgeBytes = 150'000;

// As it is when it is a JPEG that fits; else made smaller step by step until it does.
Picture bounded(const fs::path& file, std::size_t most) {
  const std::string bytes = read_file(file);
  const PictureHeader header = read_picture_header(bytes);
  if (header.columns > 0 && bytes.size() <= most && jpeg_is_whole(bytes)) return {bytes, header.columns, header.rows};
  cv::Mat picture = header.format == PictureFormat::png ? decode_png(bytes) : decode_jpeg(bytes);
  if (picture.empty()) return {};
  Picture result{jpeg_bytes(picture, 82), picture.cols, picture.rows};
  while (result.jpeg.size() > most && picture.cols > 200) {
    cv::resize(picture, picture, {}, 0.8, 0.8, cv::INTER_AREA);
    result.jpeg = jpeg_bytes(picture, 82);
  }
  return result;
}

}  // namespace

std::map<std::string, Picture> embedded_pictures(const fs::path& folder) {
  struct Wanted {
    std::string name;
    fs::path file;
    std::size_t most;
  };
  std::vector<Wanted> wanted = {{"front_flat", folder / "maps" / "front_flat.jpg", kFrontBytes},
                                {"back_flat", folder / "maps" / "back_flat.jpg", kBackBytes}};
  for (const std::string side : {"top", "right", "bottom", "left"})
    wanted.push_back({"edge-" + side, folder / ("edge-" + side + "_overlay.png"), kEdgeBytes});
  std::erase_if(wanted, [](const Wanted& w) { return !fs::is_regular_file(w.file); });
  std::vector<Picture> made(wanted.size());
  side_by_side(wanted.size(), [&](std::size_t i) { made[i] = bounded(wanted[i].file, wanted[i].most); });
  std::map<std::string, Picture> pictures;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (!made[i].jpeg.empty()) pictures[wanted[i].name] = std::move(made[i]);
  }
  return pictures;
}

}  // namespace sheetloupe::page
