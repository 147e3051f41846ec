#include "defects/fuse.h"

#include <algorithm>
#include <functional>
#include <opencv2/imgproc.hpp>

namespace sheetloupe::defects {
namespace {

// Photos laid over one another by their strips agree to a few tenths of a millimetre.
constexpr double kSamePlaceMm = 0.5;

struct Seen {
  const PinholeFind* find;
  std::size_t photo;
};

// A pit may hide in one light, beside a highlight or under it, and what only one photo of several shows is dust or
// noise: the mean of the two photos that show it best.
double mean_of_best_two(std::vector<double> scores) {
  std::sort(scores.begin(), scores.end(), std::greater<>());
  if (scores.empty()) return 0.0;
  return scores.size() == 1 ? scores[0] : 0.5 * (scores[0] + scores[1]);
}

}  // namespace

cv::Mat1b judged_anywhere(const std::vector<PhotoView>& views) {
  cv::Mat1b judged = views.front().judged.clone();
  for (std::size_t i = 1; i < views.size(); ++i) judged |= views[i].judged;
  return judged;
}

cv::Mat1b covered_everywhere(const std::vector<PhotoView>& views) {
  cv::Mat1b covered = views.front().cover.clone(), open(covered.size(), static_cast<unsigned char>(0));
  for (const PhotoView& view : views) {
    covered |= view.cover;
    open |= (view.cues.judged > kLeastJudged) & ~view.cover;
  }
  return covered & ~open;
}

PinholeSearch fuse_pinholes(const std::vector<PhotoView>& views, double mm_per_px) {
  if (views.size() == 1) return views.front().pinholes;
  PinholeSearch fused;
  std::vector<Seen> all;
  for (std::size_t i = 0; i < views.size(); ++i) {
    fused.threshold = std::max(fused.threshold, views[i].pinholes.threshold);
    fused.least = std::max(fused.least, views[i].pinholes.least);
    for (const PinholeFind& find : views[i].pinholes.finds) all.push_back({&find, i});
  }
  std::stable_sort(all.begin(), all.end(), [](const Seen& a, const Seen& b) { return a.find->score > b.find->score; });
  std::vector<bool> used(all.size(), false);
  for (std::size_t k = 0; k < all.size(); ++k) {
    if (used[k]) continue;
    const cv::Point at = all[k].find->at;
    std::vector<double> score(views.size(), 0.0);
    for (std::size_t i = 0; i < views.size(); ++i) score[i] = views[i].pinholes.least;
    for (std::size_t m = all.size(); m-- > k;) {  // the strongest of a photo is written last
      if (used[m] || cv::norm(all[m].find->at - at) * mm_per_px > kSamePlaceMm) continue;
      used[m] = true;
      score[all[m].photo] = all[m].find->score;
    }
    std::vector<double> judging;
    for (std::size_t i = 0; i < views.size(); ++i) {
      if (views[i].judged(at)) judging.push_back(score[i]);
    }
    PinholeFind find = *all[k].find;
    find.score = mean_of_best_two(std::move(judging));
    if (find.score < fused.least) continue;
    find.suspect = find.score < fused.threshold;
    fused.finds.push_back(std::move(find));
  }
  return fused;
}

}  // namespace sheetloupe::defects
