#include "outline/quad_search.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace sheetloupe::outline {
namespace {

// The part outside of which all evidence is against: a rectangle gains nothing by reaching there.
cv::Rect worth_a_look(const cv::Mat1f& evidence) { return cv::boundingRect(evidence >= 0); }

struct Box {
  double sum = 0.0;
  int left = 0, top = 0, right = 0, bottom = 0;  // half open
};

// The upright rectangle of largest sum within `part`: for every pair of rows the best run of columns (Kadane's run, as
// in Bentley, "Programming pearls: algorithm design techniques", CACM 27 (1984) 865).
Box best_box(const cv::Mat1f& evidence, const cv::Rect& part) {
  Box best;
  const int right = part.x + part.width, end = part.y + part.height;
  std::vector<float> column(evidence.cols);
  for (int top = part.y; top < end; ++top) {
    std::fill(column.begin(), column.end(), 0.0F);
    for (int bottom = top; bottom < end; ++bottom) {
      const float* row = evidence[bottom];
      float run = 0.0F;
      int start = 0;
      for (int c = part.x; c < right; ++c) {
        column[c] += row[c];
        if (run <= 0.0F) run = 0.0F, start = c;
        run += column[c];
        if (run > best.sum) best = {run, start, top, c + 1, bottom + 1};
      }
    }
  }
  return best;
}

}  // namespace

Quad best_rectangle(const cv::Mat1f& evidence) {
  constexpr int kAngles = 30;  // over a quarter turn: 3 degrees apart, 1.5 off at most
  const double reach = std::hypot(evidence.cols, evidence.rows);
  const int side = static_cast<int>(std::ceil(reach)) + 2;
  const cv::Point2d middle((evidence.cols - 1) / 2.0, (evidence.rows - 1) / 2.0),
      turned((side - 1) / 2.0, (side - 1) / 2.0);
  std::array<Box, kAngles> boxes;
  const auto axes = [&](int i) {
    const double angle = CV_PI / 2 * i / kAngles - CV_PI / 4;
    return cv::Point2d(std::cos(angle), std::sin(angle));
  };
  cv::parallel_for_(cv::Range(0, kAngles), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const cv::Point2d a = axes(i);
      // Turned place q shows middle + (q - turned).x a + (q - turned).y a turned by a quarter.
      const cv::Matx23d from(a.x, -a.y, middle.x - a.x * turned.x + a.y * turned.y, a.y, a.x,
                             middle.y - a.y * turned.x - a.x * turned.y);
      cv::Mat1f view;
      cv::warpAffine(evidence, view, from, {side, side}, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_CONSTANT,
                     cv::Scalar(-1.0));
      boxes[i] = best_box(view, worth_a_look(view));
    }
  });
  int best = 0;
  for (int i = 1; i < kAngles; ++i) {
    if (boxes[i].sum > boxes[best].sum) best = i;
  }
  const Box& box = boxes[best];
  const cv::Point2d a = axes(best), b(-a.y, a.x);
  const auto at = [&](double x, double y) { return middle + a * (x - 0.5 - turned.x) + b * (y - 0.5 - turned.y); };
  return {at(box.left, box.top), at(box.right, box.top), at(box.right, box.bottom), at(box.left, box.bottom)};
}

namespace {

// Of every row the sums of its first 0, 1, 2 ... cells.
cv::Mat1d running_sums(const cv::Mat1f& evidence) {
  cv::Mat1d sums(evidence.rows, evidence.cols + 1);
  for (int r = 0; r < evidence.rows; ++r) {
    const float* from = evidence[r];
    double* to = sums[r];
    to[0] = 0.0;
    for (int c = 0; c < evidence.cols; ++c) to[c + 1] = to[c] + from[c];
  }
  return sums;
}

// Row by row between the two crossings of a convex shape; a cell counts when its centre lies inside.
QuadSum sum_inside_of(const cv::Mat1d& sums, const Quad& quad) {
  QuadSum result;
  double low = 1e9, high = -1e9;
  for (const cv::Point2d& p : quad) low = std::min(low, p.y), high = std::max(high, p.y);
  const int from = std::max(0, static_cast<int>(std::ceil(low))),
            to = std::min(sums.rows - 1, static_cast<int>(std::floor(high)));
  for (int r = from; r <= to; ++r) {
    double left = 1e9, right = -1e9;
    for (int i = 0; i < 4; ++i) {
      const cv::Point2d &p = quad[i], &q = quad[(i + 1) % 4];
      if ((p.y <= r) == (q.y <= r)) continue;
      const double x = p.x + (q.x - p.x) * (r - p.y) / (q.y - p.y);
      left = std::min(left, x), right = std::max(right, x);
    }
    const int first = std::max(0, static_cast<int>(std::ceil(left))),
              last = std::min(sums.cols - 2, static_cast<int>(std::floor(right)));
    if (last < first) continue;
    result.sum += sums(r, last + 1) - sums(r, first);
    result.cells += last - first + 1;
  }
  return result;
}

}  // namespace

QuadSum sum_inside(const cv::Mat1f& evidence, const Quad& quad) { return sum_inside_of(running_sums(evidence), quad); }

Quad refined_quad(const cv::Mat1f& evidence, Quad quad) {
  const cv::Mat1d sums = running_sums(evidence);
  double best = sum_inside_of(sums, quad).sum;
  const auto attempt = [&](int i, double first, double second) {
    Quad moved = quad;
    const int j = (i + 1) % 4;
    const cv::Point2d side = quad[j] - quad[i];
    const double length = cv::norm(side);
    if (length < 1.0) return false;
    const cv::Point2d outward(side.y / length, -side.x / length);
    moved[i] += outward * first;
    moved[j] += outward * second;
    const double sum = sum_inside_of(sums, moved).sum;
    if (sum <= best) return false;
    best = sum;
    quad = moved;
    return true;
  };
  for (const double step : {6.0, 3.0, 1.5, 0.75, 0.4}) {
    for (int round = 0; round < 8; ++round) {
      bool better = false;
      for (int i = 0; i < 4; ++i) {
        for (const double s : {step, -step}) {
          better = attempt(i, s, s) || better;
          better = attempt(i, s, 0) || better;
          better = attempt(i, 0, s) || better;
        }
      }
      if (!better) break;
    }
  }
  return quad;
}

}  // namespace sheetloupe::outline
