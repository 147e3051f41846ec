#include "defects/nets.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/dnn.hpp>
#include <string>

#include "sheetloupe/errors.h"

namespace sheetloupe::defects {

void refuse_net(const char* what) {
  throw InputError({"trained net cannot be used", std::string("models/") + what + ".onnx", "",
                    "the ONNX model that came with the program", "put the file back, or remove it to decide without"});
}

cv::dnn::Net load_net(const std::vector<unsigned char>& onnx, const char* what) {
  try {
    cv::dnn::Net net = cv::dnn::readNetFromONNX(onnx);
    net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    return net;
  } catch (const cv::Exception&) {
    refuse_net(what);
  }
}

namespace {

// A point's score: the net's logit above the upper tenth of the sheet's own candidates, and some of how many scatters
// it stands out by itself. Cloths that the net was not trained on shift all of their logits (by as much as six), and
// there the second test fails in other places than the net does. Of shares from 0.35 to 1 on 23 rendered faces of a
// foreign kind, 0.5 to 0.8 found within three of the most pits at every rate; whole, a quarter of the false finds was
// dust, at 0.65 none. More than eight scatters tell nothing more.
constexpr double kStandingOutCounts = 0.65;
constexpr double kMostStandingOut = 8.0;
constexpr double kMostLead = 8.0;  // the net's, likewise
// Plainer points are not asked: on the same faces one pit of 117 less for half of the work.
constexpr double kLeastStandingOut = 2.5;

std::vector<float> logits_of(cv::dnn::Net& net, const Locked& l, double mm_per_px,
                             const std::vector<PinholeFind>& asked) {
  constexpr std::size_t kBatch = 256;
  std::vector<float> logits;
  for (std::size_t from = 0; from < asked.size(); from += kBatch) {
    const std::size_t n = std::min(kBatch, asked.size() - from);
    const std::array<int, 4> shape = {static_cast<int>(n), kPatchPlanes, kPatchSize, kPatchSize};
    cv::Mat blob(4, shape.data(), CV_32F);
    cv::parallel_for_(cv::Range(0, static_cast<int>(n)), [&](const cv::Range& range) {
      for (int i = range.start; i < range.end; ++i) {
        const cv::Mat1f patch = pinhole_patch(l, mm_per_px, asked[from + static_cast<std::size_t>(i)].at);
        std::copy(patch.begin(), patch.end(), blob.ptr<float>(i));
      }
    });
    net.setInput(blob);
    const cv::Mat out = net.forward();
    if (out.total() != n) refuse_net("pinholes");
    const auto* values = reinterpret_cast<const float*>(out.data);
    logits.insert(logits.end(), values, values + n);
  }
  return logits;
}

double upper_tenth(std::vector<float> logits) {
  // Too few candidates say nothing about the sheet: the median of generated faces.
  if (logits.size() < 50) return -4.5;
  const auto at = logits.begin() + static_cast<std::ptrdiff_t>(0.9 * static_cast<double>(logits.size() - 1));
  std::nth_element(logits.begin(), at, logits.end());
  return *at;
}

struct Answers {
  std::vector<float> logits;  // of the points that stand out
  double usual;               // on this sheet
};

// `all`: best first, the first `standing_out` of them to be judged. Some three hundred, from the most striking to the
// plainest, tell what is usual on the sheet; who is among both is asked once.
Answers ask(cv::dnn::Net& net, const Locked& l, double mm_per_px, const std::vector<PinholeFind>& all,
            std::size_t standing_out) {
  const std::size_t step = std::max<std::size_t>(1, all.size() / 300);
  std::vector<PinholeFind> asked(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(standing_out));
  for (std::size_t i = (standing_out + step - 1) / step * step; i < all.size(); i += step) asked.push_back(all[i]);
  Answers answers{logits_of(net, l, mm_per_px, asked), 0.0};
  std::vector<float> evenly;
  for (std::size_t i = 0; i < standing_out; i += step) evenly.push_back(answers.logits[i]);
  evenly.insert(evenly.end(), answers.logits.begin() + static_cast<std::ptrdiff_t>(standing_out), answers.logits.end());
  answers.usual = upper_tenth(std::move(evenly));
  answers.logits.resize(standing_out);
  return answers;
}

// Score above which a sheet gives `false_alarms` false pinholes on average: of 23 rendered faces of a foreign kind, 3.6
// dm2 each, 0.7 at 7.8, 1.4 at 7.4, 5.6 at 6.0, 11 at 5.0, 30 at 3.4. Generated faces carry some ten times the dirt of
// a wiped sheet and cannot set the level.
double least_score(double false_alarms, double cloth_dm2) {
  return 6.1 - 1.1 * std::log(std::clamp(false_alarms, 0.01, 100.0) / std::max(cloth_dm2, 0.1));
}

// From the same faces: true were 5 % at 6 to 6.5, 11 % to 7, 25 % to 8, 53 % to 9, 74 % to 10, 99 % above.
double confidence_of(double score) { return std::clamp(1 / (1 + std::exp(1.4 * (8.2 - score))), 0.05, 0.99); }

}  // namespace

PinholeSearch find_pinholes(const Locked& l, double mm_per_px, double warp_deg, double weft_deg, double least_px,
                            const AskedRates& rates, const std::vector<unsigned char>& onnx) {
  // Training drew the candidates as densely as this: four a square centimetre.
  const double cloth_mm2 = cv::countNonZero(l.judged) * mm_per_px * mm_per_px;
  std::vector<PinholeFind> all =
      pinhole_candidates(l, mm_per_px, warp_deg, weft_deg, least_px, static_cast<std::size_t>(0.04 * cloth_mm2) + 1);
  PinholeSearch search;
  search.threshold = least_score(rates.finds, cloth_mm2 / 1e4);
  search.least = search.threshold;
  if (rates.suspects > 0) search.least = std::min(search.least, least_score(rates.suspects, cloth_mm2 / 1e4));
  if (all.empty()) return search;
  cv::dnn::Net net = load_net(onnx, "pinholes");
  const auto plainer =
      std::find_if(all.begin(), all.end(), [](const PinholeFind& p) { return p.score < kLeastStandingOut; });
  const auto standing_out = static_cast<std::size_t>(plainer - all.begin());
  const auto [logits, usual] = ask(net, l, mm_per_px, all, standing_out);
  all.resize(standing_out);
  for (std::size_t i = 0; i < all.size(); ++i)
    all[i].score =
        std::min<double>(logits[i] - usual, kMostLead) + kStandingOutCounts * std::min(all[i].score, kMostStandingOut);
  std::stable_sort(all.begin(), all.end(),
                   [](const PinholeFind& a, const PinholeFind& b) { return a.score > b.score; });
  for (PinholeFind& find : all) {
    if (find.score < search.least) break;
    measure_pinhole(l, mm_per_px, find);
    if (find.diameter_mm < 0.15 || find.diameter_mm > 2.4) continue;
    const auto same = [&](const PinholeFind& other) {
      return cv::norm(other.at - find.at) * mm_per_px < 0.5 * (other.diameter_mm + find.diameter_mm) + 0.2;
    };
    if (std::any_of(search.finds.begin(), search.finds.end(), same)) continue;  // rim and pit of one hole
    find.confidence = confidence_of(find.score);
    find.suspect = find.score < search.threshold;
    search.finds.push_back(std::move(find));
  }
  return search;
}

}  // namespace sheetloupe::defects
