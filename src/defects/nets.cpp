#include "defects/nets.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/dnn.hpp>
#include <string>

#include "sheetloupe/errors.h"

namespace sheetloupe::defects {
namespace {

[[noreturn]] void refuse(const char* what) {
  throw InputError({"trained net cannot be used", std::string("models/") + what + ".onnx", "",
                    "the ONNX model that came with the program", "put the file back, or remove it to decide without"});
}

cv::dnn::Net load(const std::vector<unsigned char>& onnx, const char* what) {
  try {
    cv::dnn::Net net = cv::dnn::readNetFromONNX(onnx);
    net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    return net;
  } catch (const cv::Exception&) {
    refuse(what);
  }
}

// How far a point must stand out by itself, in scatters of the sheet. A Gaussian field passes six once in a billion
// pixels, a sheet has ten million; on cloth that the net was not trained on this test fails in other places than the
// net does.
constexpr double kStandsOut = 6.0;

// Logit of the patch net above which a generated face has `false_alarms` false pinholes on average: 160 faces
// kept from training gave 1.1 for 0.3, -0.9 for 1 and -2.2 for 3.
double least_logit(double false_alarms) { return -0.8 - 1.45 * std::log(std::clamp(false_alarms, 0.01, 10.0)); }

double logistic(double x) { return 1 / (1 + std::exp(-x)); }

}  // namespace

PinholeSearch find_pinholes(const Locked& l, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            double false_alarms, const std::vector<unsigned char>& onnx) {
  // Training drew the candidates as densely as this: seven a square centimetre.
  const double cloth_mm2 = cv::countNonZero(l.judged) * mm_per_px * mm_per_px;
  std::vector<PinholeFind> all =
      pinhole_candidates(l, mm_per_px, warp_deg, weft_deg, least_px, static_cast<std::size_t>(0.07 * cloth_mm2) + 1);
  PinholeSearch search;
  search.threshold = least_logit(false_alarms);
  std::erase_if(all, [](const PinholeFind& find) { return find.score < kStandsOut; });
  if (all.empty()) return search;
  cv::dnn::Net net = load(onnx, "pinholes");
  constexpr std::size_t kBatch = 256;
  for (std::size_t from = 0; from < all.size(); from += kBatch) {
    const std::size_t n = std::min(kBatch, all.size() - from);
    const std::array<int, 4> shape = {static_cast<int>(n), kPatchPlanes, kPatchSize, kPatchSize};
    cv::Mat blob(4, shape.data(), CV_32F);
    for (std::size_t i = 0; i < n; ++i) {
      const cv::Mat1f patch = pinhole_patch(l, mm_per_px, all[from + i].at);
      std::copy(patch.begin(), patch.end(), blob.ptr<float>(static_cast<int>(i)));
    }
    net.setInput(blob);
    const cv::Mat out = net.forward();
    if (out.total() != n) refuse("pinholes");
    for (std::size_t i = 0; i < n; ++i) all[from + i].score = reinterpret_cast<const float*>(out.data)[i];
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const PinholeFind& a, const PinholeFind& b) { return a.score > b.score; });
  for (PinholeFind& find : all) {
    if (find.score < search.threshold) break;
    measure_pinhole(l, mm_per_px, find);
    if (find.diameter_mm < 0.15 || find.diameter_mm > 2.4) continue;
    const auto same = [&](const PinholeFind& other) {
      return cv::norm(other.at - find.at) * mm_per_px < 0.5 * (other.diameter_mm + find.diameter_mm) + 0.2;
    };
    if (std::any_of(search.finds.begin(), search.finds.end(), same)) continue;  // rim and pit of one hole
    find.confidence = std::clamp(logistic(find.score), 0.05, 0.99);
    search.finds.push_back(std::move(find));
  }
  return search;
}

}  // namespace sheetloupe::defects
