#include "outline/coarse.h"

#include <algorithm>
#include <map>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include "outline/look.h"
#include "outline/quad_search.h"

namespace sheetloupe::outline {
namespace {

// Cells where a sheet may lie, and cells that are surely table, both CV_8U, 255 = yes.
struct Ground {
  cv::Mat possible, table;
};

void fill(cv::Mat& mask, const std::vector<cv::Point2d>& polygon_px, double cell_px, int value) {
  std::vector<cv::Point> cells;
  for (const cv::Point2d& p : polygon_px) {
    cells.emplace_back(cvRound((p.x + 0.5) / cell_px - 0.5), cvRound((p.y + 0.5) / cell_px - 0.5));
  }
  cv::fillConvexPoly(mask, cells, cv::Scalar(value));
}

// The table is surely seen on the far side of every strip. With less than two strips the picture's border is taken.
Ground ground_of(const cv::Size& size, double cell_px, const std::vector<std::array<cv::Point2d, 4>>& strips) {
  Ground ground;
  const int border = std::max(2, size.width / 60);
  cv::Mat inside = cv::Mat::zeros(size, CV_8UC1), paper = inside.clone(), inner = inside.clone();
  inside(cv::Rect(border, border, size.width - 2 * border, size.height - 2 * border)) = 255;
  inner(cv::Rect(3 * border, 3 * border, size.width - 6 * border, size.height - 6 * border)) = 255;
  cv::Point2d middle;
  for (const auto& strip : strips) {
    fill(paper, {strip.begin(), strip.end()}, cell_px, 255);
    for (const cv::Point2d& p : strip) middle += p * (0.25 / static_cast<double>(strips.size()));
  }
  cv::dilate(paper, paper, cv::Mat::ones(3, 3, CV_8U));  // a cell that shows a strip's edge shows neither
  ground.table = cv::Mat::zeros(size, CV_8UC1);
  for (const auto& strip : strips) {
    if (strips.size() < 2) break;
    // Sides 0-1 and 3-2 are the long ones; the band lies 3 to 20 mm beyond the one that faces away from the sheet.
    const bool first = cv::norm(strip[0] + strip[1] - middle * 2) > cv::norm(strip[3] + strip[2] - middle * 2);
    const cv::Point2d a = strip[first ? 0 : 3], b = strip[first ? 1 : 2];
    const cv::Point2d away_a = a - strip[first ? 3 : 0], away_b = b - strip[first ? 2 : 1];
    fill(ground.table, {a + away_a * 0.1, b + away_b * 0.1, b + away_b * 0.65, a + away_a * 0.65}, cell_px, 255);
  }
  ground.table &= ~paper & inside;
  constexpr int kFewestCells = 200;
  if (cv::countNonZero(ground.table) < kFewestCells) ground.table |= inside & ~inner & ~paper;
  ground.possible = inside & ~paper;
  return ground;
}

// How much likelier a cell is sheet than table, limited so that no single place decides.
cv::Mat1f evidence_for(const LookMap& look, const LookModel& table, const LookModel& sheet, const cv::Mat& possible) {
  constexpr double kLimit = 3.0;  // natural logarithm of the odds
  cv::Mat1f evidence = 0.5 * (squared_distance(look, table) - squared_distance(look, sheet));
  evidence += table.log_scale - sheet.log_scale;
  evidence = cv::max(cv::min(evidence, kLimit), -kLimit);
  evidence.setTo(-kLimit, ~possible);
  return evidence;
}

// Smoother than the table says nothing about the sheet: paper, a worn spot and a puddle are smooth as well.
void level_smooth_places(LookMap& look, const LookModel& table) {
  constexpr int kRoughness = kFeatures - 1;
  for (Look& cell : look.cells) cell[kRoughness] = std::max(cell[kRoughness], table.mean[kRoughness]);
}

// The sheet's own look is not known beforehand: at first it is whatever the table does not look like.
cv::Mat1f unlike_table(const LookMap& look, const LookModel& table, const cv::Mat& possible) {
  constexpr double kUsual = 9.5;  // 95 % of a normal distribution in four dimensions lie nearer (chi-square table)
  cv::Mat1f evidence = 0.25 * (squared_distance(look, table) - kUsual);
  evidence = cv::max(cv::min(evidence, 3.0), -1.0);
  evidence.setTo(-3.0, ~possible);
  return evidence;
}

// The whole picture is searched in a third of the cells each way, the shape found there refined in all.
Quad found_quad(const cv::Mat1f& evidence) {
  cv::Mat1f third;
  cv::resize(evidence, third, {evidence.cols / 3, evidence.rows / 3}, 0, 0, cv::INTER_AREA);
  Quad quad = best_rectangle(third);
  for (cv::Point2d& p : quad) {
    p.x = (p.x + 0.5) * evidence.cols / third.cols - 0.5;
    p.y = (p.y + 0.5) * evidence.rows / third.rows - 0.5;
  }
  return refined_quad(evidence, quad);
}

cv::Mat inside_of(const cv::Size& size, const Quad& quad, const cv::Mat& possible) {
  cv::Mat mask = cv::Mat::zeros(size, CV_8UC1);
  fill(mask, {quad.begin(), quad.end()}, 1.0, 255);
  cv::erode(mask, mask, cv::Mat::ones(5, 5, CV_8U));
  return mask & possible;
}

}  // namespace

std::vector<std::array<cv::Point2d, 4>> strip_quads(const std::vector<Marker>& markers) {
  std::map<int, std::pair<std::vector<cv::Point2d>, std::vector<cv::Point2d>>> by_strip;
  constexpr std::array<double, 4> kSx = {-1, 1, 1, -1}, kSy = {-1, -1, 1, 1};
  for (const Marker& marker : markers) {
    auto& [design, seen] = by_strip[marker.id / kMarkersPerStrip];
    for (int i = 0; i < 4; ++i) {
      design.emplace_back(kMarkerCentresMm[marker.id % kMarkersPerStrip] + kMarkerSideMm / 2 * kSx[i],
                          kStripWidthMm / 2 + kMarkerSideMm / 2 * kSy[i]);
      seen.emplace_back(marker.corners[i].x, marker.corners[i].y);
    }
  }
  std::vector<std::array<cv::Point2d, 4>> quads;
  for (const auto& [strip, pairs] : by_strip) {
    if (pairs.first.size() < 8) continue;
    const cv::Mat h = cv::findHomography(pairs.first, pairs.second);
    if (h.empty()) continue;
    std::vector<cv::Point2d> corners = {{-1, -1},
                                        {kStripLengthMm + 1, -1},
                                        {kStripLengthMm + 1, kStripWidthMm + 1},
                                        {-1, kStripWidthMm + 1}},
                             out;
    cv::perspectiveTransform(corners, out, h);
    quads.push_back({out[0], out[1], out[2], out[3]});
  }
  return quads;
}

Coarse find_coarse(const cv::Mat& bgr, const std::vector<Marker>& markers) {
  Coarse coarse;
  constexpr int kSmallest = 240;  // px: below this tows cannot be told from a plain surface
  if (std::min(bgr.cols, bgr.rows) < kSmallest) {
    coarse.reason = "The photo is too small to find the sheet's sides in it. Use the phone's full resolution.";
    return coarse;
  }
  LookMap look = look_at(bgr);
  const cv::Size size = look.cells.size();
  const Ground ground = ground_of(size, look.cell_px, strip_quads(markers));
  constexpr float kShade = 0.35F;  // a lamp's shadow on the table takes a third of its light, often half
  const LookModel table = model_of(look, ground.table, kShade);
  coarse.reason =
      "No sheet was found in the picture. Photograph it whole, from above, on a table that differs from it.";
  if (!table.usable) return coarse;
  level_smooth_places(look, table);
  cv::Mat1f evidence = unlike_table(look, table, ground.possible);
  Quad quad = found_quad(evidence);
  for (int round = 0; round < 2; ++round) {
    const LookModel sheet = model_of(look, inside_of(size, quad, ground.possible), 0.0F);
    if (!sheet.usable) return coarse;
    evidence = evidence_for(look, table, sheet, ground.possible);
    quad = round == 0 ? found_quad(evidence) : refined_quad(evidence, quad);
  }
  const QuadSum inside = sum_inside(evidence, quad);
  // A sheet worth measuring fills more than a fiftieth of the picture. Evidence runs from -3 to 3.
  if (inside.cells < 0.02 * static_cast<double>(size.area()) || inside.sum < 1.0 * inside.cells) return coarse;
  coarse.reason.clear();
  coarse.corners = quad;
  for (cv::Point2d& c : *coarse.corners) c = (c + cv::Point2d(0.5, 0.5)) * look.cell_px - cv::Point2d(0.5, 0.5);
  return coarse;
}

}  // namespace sheetloupe::outline
