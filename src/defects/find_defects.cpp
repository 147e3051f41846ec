#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "defects/areas.h"
#include "defects/cues.h"
#include "defects/fuse.h"
#include "defects/pinhole_net.h"
#include "defects/pinholes.h"
#include "defects/reference.h"
#include "sheetloupe/defects.h"
#include "sheetloupe/side_by_side.h"

namespace sheetloupe {
namespace {

using namespace defects;

// The least diameter that shows: three and a half of the photo's own pixels, or as much as its blur spreads a point.
double smallest_pinhole_mm(const RectifiedSheet& sheet) {
  const double blur_px = std::max(sheet.blur_sigma_px, 0.7);
  return std::max(3.5, 2.355 * blur_px + 1.5) * sheet.photo_mm_per_px;
}

Ring ring_of(const cv::Mat1b& mask, cv::Point offset, double mm_per_px, SheetPoint origin) {
  cv::Mat grown;
  cv::copyMakeBorder(mask, grown, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  std::vector<std::vector<cv::Point>> contours;
  cv::findContours(grown, contours, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
  if (contours.empty()) return {};
  const auto& longest = *std::max_element(contours.begin(), contours.end(),
                                          [](const auto& a, const auto& b) { return a.size() < b.size(); });
  std::vector<cv::Point> simple;
  cv::approxPolyDP(longest, simple, 0.7, true);
  // A contour runs through pixel centres: pushed out by half a pixel from the middle so that it encloses whole pixels.
  cv::Point2d middle(0, 0);
  for (const cv::Point& p : simple) middle += cv::Point2d(p);
  middle /= static_cast<double>(simple.size());
  Ring ring;
  for (const cv::Point& p : simple) {
    cv::Point2d d = cv::Point2d(p) - middle;
    const double length = std::max(cv::norm(d), 1e-6);
    const cv::Point2d q = cv::Point2d(p) + d * (0.6 / length) + cv::Point2d(offset) - cv::Point2d(1, 1);
    ring.push_back({origin.x + (q.x + 0.5) * mm_per_px, origin.y + (q.y + 0.5) * mm_per_px});
  }
  return ring.size() >= 3 ? ring : Ring{};
}

Mm largest_extent(const Ring& ring) {
  double best = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    for (std::size_t j = i + 1; j < ring.size(); ++j) best = std::max(best, distance_mm(ring[i], ring[j]));
  }
  return Mm(best);
}

// A node mask brought to the label raster with a smooth border: the part of the raster that holds it.
struct PixelMask {
  cv::Mat1b mask;
  cv::Rect at;
};

PixelMask to_pixels(const cv::Mat1b& nodes, const Cues& cues, const RectifiedSheet& sheet) {
  const int block = cvRound(cues.mm_per_node / sheet.mm_per_px);
  const cv::Rect used = cv::boundingRect(nodes);
  if (used.empty()) return {};
  const cv::Rect box = cv::Rect(used.tl() - cv::Point(1, 1), used.br() + cv::Point(1, 1)) & cv::Rect({}, nodes.size());
  cv::Mat1f soft, large;
  nodes(box).convertTo(soft, CV_32F, 1.0 / 255.0);
  cv::resize(soft, large, box.size() * block, 0, 0, cv::INTER_LINEAR);
  const cv::Rect at = cv::Rect(box.tl() * block, box.size() * block) & cv::Rect({}, sheet.bgr.size());
  return {cv::Mat1b(large > 0.5)(cv::Rect({}, at.size())), at};
}

void add_area(const AreaFind& find, const Cues& cues, const RectifiedSheet& sheet, DefectAnalysis& result) {
  const auto [mask, at] = to_pixels(find.mask, cues, sheet);
  const double px_mm2 = sheet.mm_per_px * sheet.mm_per_px;
  Defect item;
  item.kind = find.kind;
  item.area_mm2 = cv::countNonZero(mask) * px_mm2;
  item.polygon = ring_of(mask, at.tl(), sheet.mm_per_px, sheet.origin);
  item.centre = centroid(item.polygon);
  item.max_diameter = largest_extent(item.polygon);
  // The outline is good to about a node either way. On 33 dry spots of a foreign kind half of the true border lay 0.4
  // mm and more inside the found one, a fifth more than 0.6 mm outside.
  item.keep_clear = Mm(cues.mm_per_node);
  double around = 0;
  for (std::size_t i = 0; i < item.polygon.size(); ++i)
    around += distance_mm(item.polygon[i], item.polygon[(i + 1) % item.polygon.size()]);
  item.area_u95_mm2 = std::min(item.area_mm2, around * item.keep_clear.value());
  item.confidence = find.confidence;
  if (!find.suspect) {
    cv::Mat target = result.labels(at);
    target.setTo(static_cast<int>(find.kind), mask & (target != static_cast<int>(DefectLabel::not_judged)));
  }
  if (!item.polygon.empty()) (find.suspect ? result.suspects : result.items).push_back(std::move(item));
}

void add_pinhole(const PinholeFind& find, const RectifiedSheet& sheet, DefectAnalysis& result) {
  // A dark point inside a dry spot belongs to it.
  if (result.labels.at<unsigned char>(find.at) != 0) return;
  const int reach_x = find.mask.cols / 2, reach_y = find.mask.rows / 2;
  const cv::Point corner(std::max(0, find.at.x - reach_x), std::max(0, find.at.y - reach_y));
  Defect item;
  item.kind = DefectLabel::pinhole;
  item.centre = sheet.sheet_from_pixel(find.at.x, find.at.y);
  item.max_diameter = Mm(find.diameter_mm);
  item.area_mm2 = CV_PI / 4 * find.diameter_mm * find.diameter_mm;
  item.area_u95_mm2 = std::min(item.area_mm2, CV_PI * find.diameter_mm * sheet.photo_mm_per_px);
  item.polygon = ring_of(find.mask, corner, sheet.mm_per_px, sheet.origin);
  item.confidence = find.confidence;
  if (!find.suspect) {
    const cv::Rect window = cv::Rect(corner, find.mask.size()) & cv::Rect({}, result.labels.size());
    cv::Mat target = result.labels(window);
    target.setTo(static_cast<int>(DefectLabel::pinhole), find.mask(cv::Rect({}, window.size())) & (target == 0));
  }
  (find.suspect ? result.suspects : result.items).push_back(std::move(item));
}

// A pit spreads over the window of the area cues and looks like a small spot there: where one clear pinhole explains a
// small find, the pinhole stands.
bool is_pinhole(const AreaFind& find, const Cues& cues, double mm_per_px, const PinholeSearch& pinholes,
                double tow_mm) {
  const double cells = cv::countNonZero(find.mask) * cues.mm_per_node * cues.mm_per_node / (tow_mm * tow_mm);
  if (cells > 5.0) return false;
  int inside = 0;
  for (const PinholeFind& p : pinholes.finds) {
    const cv::Point node(static_cast<int>(p.at.x * mm_per_px / cues.mm_per_node),
                         static_cast<int>(p.at.y * mm_per_px / cues.mm_per_node));
    if (cv::Rect({}, find.mask.size()).contains(node) && find.mask(node) && p.diameter_mm < 0.6 * tow_mm &&
        (find.suspect || !p.suspect))
      ++inside;
  }
  return inside == 1;
}

void number_by_size(std::vector<Defect>& items, const std::string& prefix) {
  std::stable_sort(items.begin(), items.end(),
                   [](const Defect& a, const Defect& b) { return a.area_mm2 > b.area_mm2; });
  for (std::size_t i = 0; i < items.size(); ++i) items[i].id = prefix + std::to_string(i + 1);
}

PhotoView look_at(const RectifiedSheet& sheet, const WeaveAnalysis& weave, double least_px,
                  const DefectOptions& options) {
  const Locked locked = lock(sheet, weave);
  PhotoView view;
  view.tow_mm = locked.tow_mm;
  view.judged = locked.judged;
  const double warp = weave.warp.degrees(), weft = weave.weft.degrees();
  const auto measure = [&] {
    view.cues = measure_cues(sheet, locked);
    view.cover = covered(view.cues);
  };
  const auto search = [&] {
    view.pinholes =
        options.pinhole_net.empty()
            ? find_pinholes(locked, sheet.mm_per_px, warp, weft, least_px, options.false_alarms_per_sheet)
            : find_pinholes(locked, sheet.mm_per_px, warp, weft, least_px,
                            {options.false_alarms_per_sheet, options.suspects_per_sheet}, options.pinhole_net);
  };
  side_by_side(2, [&](std::size_t i) { i == 0 ? measure() : search(); });
  return view;
}

// The plain decision looks at the first photo only.
std::vector<AreaFind> areas_of(const std::vector<PhotoView>& views, const cv::Mat1b& cover,
                               const DefectOptions& options) {
  if (options.area_net.empty()) return find_areas(views[0].cues, cover, views[0].tow_mm);
  std::vector<Read> reads;
  cv::Mat1b judged(cover.size(), static_cast<unsigned char>(0));
  for (const PhotoView& view : views) {
    reads.push_back(read_nodes(view.cues, view.cover, options.area_net));
    judged |= view.cues.judged > 0.5;
  }
  const double mm_per_node = views[0].cues.mm_per_node;
  return find_areas(mean_of(reads), mm_per_node, cv::countNonZero(judged) * mm_per_node * mm_per_node / 1e4,
                    {options.false_areas_per_sheet, options.suspects_per_sheet});
}

}  // namespace

DefectAnalysis find_defects(const std::vector<RectifiedSheet>& photos, const WeaveAnalysis& weave,
                            const std::string& id_prefix, const DefectOptions& options) {
  DefectAnalysis result;
  if (photos.empty() || photos[0].bgr.empty()) {
    result.reason = "There is no flat picture to judge.";
    return result;
  }
  const RectifiedSheet& sheet = photos[0];
  result.mm_per_px = sheet.mm_per_px;
  result.origin = sheet.origin;
  result.labels = cv::Mat(sheet.bgr.size(), CV_8UC1, cv::Scalar(static_cast<int>(DefectLabel::not_judged)));
  if (!weave.found || !weave.phase) {
    result.reason = "Defects are judged against the weave, which could not be read: " + weave.reason;
    return result;
  }
  result.smallest_pinhole_mm = smallest_pinhole_mm(sheet);
  std::vector<PhotoView> views;
  for (const RectifiedSheet& photo : photos)
    views.push_back(look_at(photo, weave, smallest_pinhole_mm(photo) / photo.mm_per_px, options));
  const Cues& cues = views[0].cues;
  const double tow_mm = views[0].tow_mm;
  const cv::Mat1b cover = covered_everywhere(views);
  result.labels.setTo(0, judged_anywhere(views));
  const PixelMask covered_px = to_pixels(cover, cues, sheet);
  if (!covered_px.at.empty())
    result.labels(covered_px.at).setTo(static_cast<int>(DefectLabel::not_judged), covered_px.mask);
  const PinholeSearch pinholes = fuse_pinholes(views, sheet.mm_per_px);
  for (const AreaFind& find : areas_of(views, cover, options)) {
    if (!is_pinhole(find, cues, sheet.mm_per_px, pinholes, tow_mm)) add_area(find, cues, sheet, result);
  }
  for (const PinholeFind& find : pinholes.finds) add_pinhole(find, sheet, result);
  number_by_size(result.items, id_prefix);
  number_by_size(result.suspects, id_prefix + "S");
  const double cloth = cv::countNonZero(sheet.cloth);
  result.judged_fraction =
      cloth > 0 ? cv::countNonZero((result.labels != static_cast<int>(DefectLabel::not_judged)) & sheet.cloth) / cloth
                : 0.0;
  result.judged = true;
  return result;
}

}  // namespace sheetloupe
