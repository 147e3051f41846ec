// The trained decision on areas: a small net's odds and the plain departure, added up as evidence.
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "defects/areas.h"
#include "defects/net_runner.h"

namespace sheetloupe::defects {
namespace {

// asinh of the values, over whole rows at a time: its defining logarithm, which OpenCV takes of many at once.
void asinh_into(const cv::Mat1f& values, cv::Mat1f into) {
  cv::Mat1f size = cv::abs(values), root;
  cv::sqrt(size.mul(size) + 1.0, root);
  size += root;
  cv::log(size, size);
  for (int r = 0; r < values.rows; ++r) {
    for (int c = 0; c < values.cols; ++c) into(r, c) = std::clamp(std::copysign(size(r, c), values(r, c)), -4.8F, 4.8F);
  }
}

// Sides filled up to what three halvings need.
NetRunner::Shape shape_of(const Cues& cues) {
  return {1, kCueCount + 1, (cues.judged.rows + 7) / 8 * 8, (cues.judged.cols + 7) / 8 * 8};
}

// The net's input: asinh of every cue and the judged share; zero beyond the grid.
void fill_input(const Cues& cues, cv::Mat input) {
  const cv::Rect grid({}, cues.judged.size());
  cv::parallel_for_(cv::Range(0, kCueCount + 1), [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k) {
      cv::Mat1f plane = cv::Mat1f(input.size[2], input.size[3], input.ptr<float>(0, k))(grid);
      if (k < kCueCount) {
        asinh_into(cues.z[static_cast<std::size_t>(k)], plane);
      } else {
        cv::min(cv::max(cues.judged, 0.0), 1.0, plane);
      }
    }
  });
}

// Evidence for a flaw: the net's log odds, and the departure against the six scatters to which a plain region is
// grown. A net alone reads cloths it was not trained on too timidly, a departure alone takes every odd tow and glare's
// rim. Of the weights 1, 2 and 3.2 on 23 rendered faces of a foreign kind: 27, 28 and 28 of 41 dry spots above 12 mm2
// at 0.8 false a face, outlines best at the smaller two. Against 4.7 scatters the areas there came out 1 % large
// instead of 5 % small, but four photos of a glossy sheet gave three false ones instead of one.
cv::Mat1f evidence(const cv::Mat1f& net, const cv::Mat1f& out) {
  constexpr float kWeight = 2.0F, kGrow = 6.0F, kLeast = 0.5F;
  cv::Mat1f sum(net.size());
  for (int r = 0; r < net.rows; ++r) {
    for (int c = 0; c < net.cols; ++c) sum(r, c) = net(r, c) + kWeight * std::log(std::max(out(r, c), kLeast) / kGrow);
  }
  return sum;
}

// Strength of a region: mean evidence of its best quarter, more for a large one.
double score_of(std::vector<float> values, double area_mm2) {
  std::sort(values.begin(), values.end(), std::greater<>());
  const std::size_t n = std::max<std::size_t>(1, values.size() / 4);
  double sum = 0;
  for (std::size_t i = 0; i < n; ++i) sum += values[i];
  return sum / static_cast<double>(n) + 0.35 * std::log(area_mm2);
}

// Score above which a sheet gives `false_areas` false ones on average: of 23 rendered faces of a foreign kind, 3.6 dm2
// each, 0.1 at 2.6, 0.2 at 2.0, 0.4 at 1.5, 1.2 at 0.7. Generated faces carry some ten times the dirt of a wiped sheet
// and cannot set the level.
double least_score(double false_areas, double cloth_dm2) {
  return -0.02 - 0.72 * std::log(std::clamp(false_areas, 0.01, 100.0) / std::max(cloth_dm2, 0.1));
}

// From the same faces: of scores 1.5 to 2 one of 7 was true, to 3 none of 4, above all 35.
double confidence_of(double score) { return std::clamp(1 / (1 + std::exp(1.6 * (2.8 - score))), 0.05, 0.99); }

// Nodes within a tow's width of what is not judged: the cloth's end with its ragged fibres and flash, glare, tape.
// There half of a cue's window is missing.
cv::Mat1b beside_unjudged(const cv::Mat1f& evidence, double mm_per_node) {
  const int width = 2 * cvRound(1.5 / mm_per_node) + 1;
  cv::Mat1b near;
  // Beyond the grid nothing is judged either.
  cv::copyMakeBorder(evidence <= kNothing, near, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(255));
  cv::dilate(near, near, cv::getStructuringElement(cv::MORPH_ELLIPSE, {width, width}));
  return near(cv::Rect({1, 1}, evidence.size()));
}

// Connected regions of more than `floor` evidence that score at least `least`, those beside what is not judged one
// more: on 23 rendered faces of a foreign kind 5 of 8 false regions that scored above 1.8 lay there and 1 of 37 true
// ones, which scored 8.6.
std::vector<AreaFind> regions(const Read& read, float floor, double least, double mm_per_node) {
  constexpr double kMoreBeside = 1.0;
  const double node_mm2 = mm_per_node * mm_per_node;
  const cv::Mat1b beside = beside_unjudged(read.evidence, mm_per_node);
  cv::Mat1i labels;
  cv::Mat stats, middles;
  const int count = cv::connectedComponentsWithStats(read.evidence > floor, labels, stats, middles, 4);
  std::vector<AreaFind> finds;
  for (int i = 1; i < count; ++i) {
    const double area_mm2 = stats.at<int>(i, cv::CC_STAT_AREA) * node_mm2;
    if (area_mm2 < 1.5) continue;
    const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                       stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    std::vector<float> values;
    int dry = 0;
    bool at_end = false;
    for (int r = box.y; r < box.y + box.height; ++r) {
      for (int c = box.x; c < box.x + box.width; ++c) {
        if (labels(r, c) != i) continue;
        values.push_back(read.evidence(r, c));
        if (read.dry(r, c) >= 0) ++dry;
        at_end |= beside(r, c) != 0;
      }
    }
    const double score = score_of(values, area_mm2) - (at_end ? kMoreBeside : 0);
    if (score < least) continue;
    finds.push_back({labels == i,
                     2 * dry >= static_cast<int>(values.size()) ? DefectLabel::dry_spot : DefectLabel::resin_rich,
                     confidence_of(score), false});
  }
  return finds;
}

// What is left of the wider, weaker regions outside the finds: lone suspects, and the rims of finds that may go on.
std::vector<AreaFind> suspects_beside(const std::vector<AreaFind>& finds, std::vector<AreaFind> weaker,
                                      double node_mm2) {
  cv::Mat1b taken;
  std::vector<AreaFind> suspects;
  for (const AreaFind& find : finds) taken.empty() ? void(taken = find.mask.clone()) : void(taken |= find.mask);
  for (AreaFind& find : weaker) {
    if (!taken.empty()) find.mask.setTo(0, taken);
    cv::Mat1i labels;
    cv::Mat stats, middles;
    const int count = cv::connectedComponentsWithStats(find.mask, labels, stats, middles, 4);
    for (int i = 1; i < count; ++i) {
      if (stats.at<int>(i, cv::CC_STAT_AREA) * node_mm2 >= 1.5)
        suspects.push_back({labels == i, find.kind, find.confidence, true});
    }
  }
  return suspects;
}

}  // namespace

Read read_nodes(const Cues& cues, const cv::Mat1b& cover, const std::vector<unsigned char>& onnx) {
  cv::dnn::Net net = load_net(onnx, "areas");
  NetRunner runner(net, shape_of(cues), "areas");
  fill_input(cues, runner.input());
  cv::Mat out = runner.run();
  if (out.dims != 4 || out.size[1] != 3 || out.size[2] < cues.judged.rows || out.size[3] < cues.judged.cols)
    refuse_net("areas");
  const cv::Rect grid({}, cues.judged.size());
  const auto plane = [&](int k) { return cv::Mat1f(out.size[2], out.size[3], out.ptr<float>(0, k))(grid); };
  Read read{evidence(cv::max(plane(1), plane(2)) - plane(0), departure(cues)), plane(1) - plane(2)};
  read.evidence.setTo(kNothing, cover);
  read.evidence.setTo(kNothing, cues.judged < kLeastJudged);
  return read;
}

Read mean_of(const std::vector<Read>& reads) {
  if (reads.size() == 1) return reads.front();
  const cv::Size size = reads.front().evidence.size();
  Read mean{cv::Mat1f(size, kNothing), cv::Mat1f(size, 0.F)};
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      float evidence = 0, dry = 0, judging = 0;
      for (const Read& read : reads) {
        if (read.evidence(r, c) <= kNothing) continue;
        evidence += read.evidence(r, c);
        dry += read.dry(r, c);
        judging += 1;
      }
      if (judging == 0) continue;
      mean.evidence(r, c) = evidence / judging;
      mean.dry(r, c) = dry / judging;
    }
  }
  return mean;
}

std::vector<AreaFind> find_areas(const Read& read, double mm_per_node, double cloth_dm2, const AskedRates& rates) {
  // Weaker regions than a find may go down to here. Of three pairs of this and the rate, all three kept a third of the
  // rings that missed flaws had spoiled on 17 rendered faces of a foreign kind, for 3 % of the blanks.
  constexpr float kWeak = -1.5F;
  const double node_mm2 = mm_per_node * mm_per_node;
  std::vector<AreaFind> finds = regions(read, 0, least_score(rates.finds, cloth_dm2), mm_per_node);
  if (rates.suspects <= 0) return finds;
  const std::vector<AreaFind> suspects =
      suspects_beside(finds, regions(read, kWeak, least_score(rates.suspects, cloth_dm2), mm_per_node), node_mm2);
  finds.insert(finds.end(), suspects.begin(), suspects.end());
  return finds;
}

}  // namespace sheetloupe::defects
