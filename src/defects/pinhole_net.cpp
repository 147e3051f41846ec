#include "defects/pinhole_net.h"

#include <algorithm>
#include <cmath>

#include "defects/net_runner.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe::defects {

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

// In batches, two side by side; the last one is filled up with patches that were asked before.
std::vector<float> logits_of(cv::dnn::Net& net, const Locked& l, double mm_per_px,
                             const std::vector<PinholeFind>& asked) {
  constexpr std::size_t kBatch = 32, kBeside = 2;
  std::vector<float> logits(asked.size());
  std::vector<NetRunner> runners;
  for (std::size_t i = 0; i < kBeside; ++i)
    runners.emplace_back(net, NetRunner::Shape{kBatch, kPatchPlanes, kPatchSize, kPatchSize}, "pinholes");
  side_by_side(kBeside, [&](std::size_t beside) {
    cv::Mat input = runners[beside].input();
    for (std::size_t from = beside * kBatch; from < asked.size(); from += kBeside * kBatch) {
      const std::size_t n = std::min(kBatch, asked.size() - from);
      for (std::size_t i = 0; i < n; ++i) {
        const cv::Mat1f patch = pinhole_patch(l, mm_per_px, asked[from + i].at);
        std::copy(patch.begin(), patch.end(), input.ptr<float>(static_cast<int>(i)));
      }
      const cv::Mat out = runners[beside].run();
      if (out.total() != kBatch) refuse_net("pinholes");
      std::copy_n(out.ptr<float>(), n, &logits[from]);
    }
  });
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

// `all`: best first, the first `standing_out` of them to be judged. Some two hundred, from the most striking
// to the plainest, tell what is usual on the sheet; who is among both is asked once.
Answers ask(cv::dnn::Net& net, const Locked& l, double mm_per_px, const std::vector<PinholeFind>& all,
            std::size_t standing_out) {
  const std::size_t step = std::max<std::size_t>(1, all.size() / 200);
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
