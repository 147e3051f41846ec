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
std::size_t most_bytes(const std::string& name) {
  return name == "front_flat" ? 2'600'000 : name == "back_flat" ? 700'000 : 150'000;
}

// As it is when it is a JPEG that fits.
Picture picture_in(const fs::path& file, const std::string& name) {
  const std::string bytes = read_file(file);
  const PictureHeader header = read_picture_header(bytes);
  if (header.columns > 0 && bytes.size() <= most_bytes(name) && jpeg_is_whole(bytes))
    return {bytes, header.columns, header.rows};
  const cv::Mat picture = header.format == PictureFormat::png ? decode_png(bytes) : decode_jpeg(bytes);
  return picture.empty() ? Picture{} : embedded_picture(name, picture);
}

}  // namespace

Picture embedded_picture(const std::string& name, const cv::Mat& picture, const std::string& jpeg) {
  constexpr int kQuality = 82, kLeastColumns = 200;
  const std::size_t most = most_bytes(name);
  Picture result{jpeg, picture.cols, picture.rows};
  if (jpeg.empty() || jpeg.size() > most) result.jpeg = jpeg_bytes(picture, kQuality);
  // Made smaller step by step until it fits.
  cv::Mat smaller = picture;
  while (result.jpeg.size() > most && smaller.cols > kLeastColumns) {
    cv::resize(smaller, smaller, {}, 0.8, 0.8, cv::INTER_AREA);
    result.jpeg = jpeg_bytes(smaller, kQuality);
  }
  return result;
}

std::map<std::string, Picture> embedded_pictures(const fs::path& folder) {
  struct Wanted {
    std::string name;
    fs::path file;
  };
  std::vector<Wanted> wanted = {{"front_flat", folder / "maps" / "front_flat.jpg"},
                                {"back_flat", folder / "maps" / "back_flat.jpg"}};
  for (const std::string side : {"top", "right", "bottom", "left"})
    wanted.push_back({"edge-" + side, folder / ("edge-" + side + "_overlay.png")});
  std::erase_if(wanted, [](const Wanted& w) { return !fs::is_regular_file(w.file); });
  std::vector<Picture> made(wanted.size());
  side_by_side(wanted.size(), [&](std::size_t i) { made[i] = picture_in(wanted[i].file, wanted[i].name); });
  std::map<std::string, Picture> pictures;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (!made[i].jpeg.empty()) pictures[wanted[i].name] = std::move(made[i]);
  }
  return pictures;
}

}  // namespace sheetloupe::page
