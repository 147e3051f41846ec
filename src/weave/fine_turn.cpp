#include "weave/fine_turn.h"

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace sheetloupe::weave {
namespace {

// Right readings of 24 pictures, own and by an independent generator, lie within 4 degrees, or 7 at a clearness of 0.14
// (tows of six px). Wrong readings: satin as plain weave, 18.4 off at 0.65, and a photo of a carbon tube seen aslant,
// 27 off at 0.12, which is where the tows of the tube do run. Half of 18.4 divides them.
constexpr double kMostTurnDeg = 9.2, kLeastClearness = 0.1;

// Four times an axis as a unit vector: the two tow sets, a quarter turn apart, add up.
cv::Vec2d fourfold(double x, double y) {
  const double p = x * x + y * y;
  if (p < 1e-12) return {0, 0};
  const double c = (x * x - y * y) / p, s = 2 * x * y / p;
  return {c * c - s * s, 2 * c * s};
}

double turn_between(cv::Vec2d from, cv::Vec2d to) {
  // y grows downward: a turn that looks counter-clockwise takes x toward -y.
  return -std::atan2(from[0] * to[1] - from[1] * to[0], from.dot(to)) * 180 / CV_PI;
}

// Tow counts of the other weaves on the same points: rows are their counts' steps in those of the lattice at hand. All
// three lattices are square ones turned by arctan(1/3) from each other.
struct Sibling {
  Hypothesis weave;
  cv::Matx22d counts;
};

std::vector<Sibling> siblings_of(Hypothesis weave) {
  const cv::Matx22d satin(1.5, .5, -.5, 1.5), mirrored(1.5, -.5, .5, 1.5), plain = cv::Matx22d::eye();
  if (weave == Hypothesis::twill_2x2) return {};
  const cv::Matx22d own = weave == Hypothesis::plain ? plain : weave == Hypothesis::satin_5 ? satin : mirrored;
  std::vector<Sibling> all;
  for (const auto& [other, counts] : {std::pair{Hypothesis::plain, plain}, std::pair{Hypothesis::satin_5, satin},
                                      std::pair{Hypothesis::satin_5_mirrored, mirrored}}) {
    if (other != weave) all.push_back({other, counts * own.inv()});
  }
  return all;
}

}  // namespace

FineTurn fine_turn(const Normalised& n, const PhaseField& field) {
  // Every third row tells the same: the gradients reach over three.
  constexpr int kRows = 3;
  cv::Mat1f gx, gy, inside;
  cv::Sobel(n.z, gx, CV_32F, 1, 0);
  cv::Sobel(n.z, gy, CV_32F, 0, 1);
  cv::erode(n.seen, inside, cv::getStructuringElement(cv::MORPH_RECT, {9, 9}));
  const double step = field.step_mm / n.mm_per_px;
  cv::Vec2d sum(0, 0);
  double weight = 0;
  for (int r = 0; r < field.seen.rows; ++r) {
    for (int c = 0; c < field.seen.cols; ++c) {
      const cv::Rect block = cv::Rect(cv::Point(cvRound(c * step), cvRound(r * step)),
                                      cv::Point(cvRound((c + 1) * step), cvRound((r + 1) * step))) &
                             cv::Rect({}, n.z.size());
      const cv::Vec2f s = field.grad_s(r, c), t = field.grad_t(r, c);
      const cv::Vec2d axes = fourfold(s[0], s[1]) + fourfold(t[0], t[1]);
      const double length = cv::norm(axes);
      if (length < 1e-6) continue;
      for (int y = (block.y + kRows - 1) / kRows * kRows; y < block.br().y; y += kRows) {
        for (int x = block.x; x < block.br().x; ++x) {
          if (inside(y, x) < 0.5F) continue;
          const double p = gx(y, x) * gx(y, x) + gy(y, x) * gy(y, x);
          const cv::Vec2d g = fourfold(gx(y, x), gy(y, x));
          sum += p / length * cv::Vec2d(g.dot(axes), g[1] * axes[0] - g[0] * axes[1]);
          weight += p;
        }
      }
    }
  }
  if (weight <= 0) return {};
  return {-std::atan2(sum[1], sum[0]) * 45 / CV_PI, cv::norm(sum) / weight};
}

bool tells(const FineTurn& fine) { return fine.clearness > kLeastClearness; }

bool contradicts(const FineTurn& fine) { return tells(fine) && std::abs(fine.turn_deg) > kMostTurnDeg; }

std::optional<Lattice> sibling(const Lattice& lattice, double turn_deg) {
  const cv::Vec2d own(lattice.reciprocal(0, 0), lattice.reciprocal(0, 1));
  for (const Sibling& s : siblings_of(lattice.weave)) {
    Lattice other = lattice;
    other.weave = s.weave;
    other.reciprocal = s.counts * lattice.reciprocal;
    const double turn = turn_between(own, {other.reciprocal(0, 0), other.reciprocal(0, 1)});
    if (std::abs(std::remainder(turn - turn_deg, 90.0)) < kMostTurnDeg) return other;
  }
  return {};
}

}  // namespace sheetloupe::weave
