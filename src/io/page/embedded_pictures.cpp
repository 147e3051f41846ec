#include "io/page/embedded_pictures.h"

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "sheetloupe/io/atomic_file.h"

namespace sheetloupe::page {
namespace {

namespace fs = std::filesystem;

// Bytes of JPEG; base64 makes four of three, and text and shapes need about 0.7 MB of the 6.
constexpr std::size_t kFrontBytes = 2'600'000, kBackBytes = 700'000, kEdgeBytes = 150'000;

std::string jpeg_of(const cv::Mat& picture, int quality) {
  std::vector<uchar> bytes;
  cv::imencode(".jpg", picture, bytes, {cv::IMWRITE_JPEG_QUALITY, quality});
  return {bytes.begin(), bytes.end()};
}

// As it is when it is a JPEG that fits; else made smaller step by step until it does.
Picture bounded(const fs::path& file, std::size_t most) {
  const std::string bytes = read_file(file);
  cv::Mat picture = cv::imdecode(std::vector<uchar>(bytes.begin(), bytes.end()), cv::IMREAD_COLOR);
  if (picture.empty()) return {};
  Picture result{bytes, picture.cols, picture.rows};
  if (file.extension() == ".jpg" && bytes.size() <= most) return result;
  result.jpeg = jpeg_of(picture, 82);
  while (result.jpeg.size() > most && picture.cols > 200) {
    cv::resize(picture, picture, {}, 0.8, 0.8, cv::INTER_AREA);
    result.jpeg = jpeg_of(picture, 82);
  }
  return result;
}

}  // namespace

std::map<std::string, Picture> embedded_pictures(const fs::path& folder) {
  std::map<std::string, Picture> pictures;
  const auto add = [&](const std::string& name, const fs::path& file, std::size_t most) {
    if (!fs::is_regular_file(file)) return;
    Picture picture = bounded(file, most);
    if (!picture.jpeg.empty()) pictures[name] = std::move(picture);
  };
  add("front_flat", folder / "maps" / "front_flat.jpg", kFrontBytes);
  add("back_flat", folder / "maps" / "back_flat.jpg", kBackBytes);
  for (const std::string side : {"top", "right", "bottom", "left"})
    add("edge-" + side, folder / ("edge-" + side + "_overlay.png"), kEdgeBytes);
  return pictures;
}

}  // namespace sheetloupe::page
