#include "weave/block_sums.h"

#include <algorithm>

#include "sheetloupe/wide.h"

namespace sheetloupe::weave {
namespace {

// A tow count over one block: at its middle, and its steps per px.
struct Plane {
  float middle = 0, x = 0, y = 0;
};

struct Between {
  int first, second;
  float share;
};

Between between(int block, int nodes) {
  const int first = std::clamp((block - 1) / 2, 0, std::max(0, nodes - 2));
  return {first, std::min(first + 1, nodes - 1), 0.5F * static_cast<float>(block) - 0.25F - static_cast<float>(first)};
}

Plane plane_of(const cv::Mat1f& nodes, const Between& row, const Between& col, float per_px) {
  const float *upper = nodes[row.first], *lower = nodes[row.second];
  const float top = upper[col.second] - upper[col.first], bottom = lower[col.second] - lower[col.first],
              left = lower[col.first] - upper[col.first];
  const float across = top + row.share * (bottom - top), down = left + col.share * (bottom - top);
  return {upper[col.first] + row.share * left + col.share * across, per_px * across, per_px * down};
}

// cos and sin of so many turns: from those of half the angle, within a quarter turn, by their series; to 5e-6.
inline void unit(const Eight& turns, Eight& re, Eight& im) {
  constexpr float kRound = 12582912.F;  // 3 * 2^22: floats of this size are whole
  const Eight half = (turns - ((turns + kRound) - kRound)) * static_cast<float>(CV_PI), h = half * half;
  const Eight s = half * (1.F + h * (-1.F / 6 + h * (1.F / 120 + h * (-1.F / 5040 + h * (1.F / 362880)))));
  const Eight c = 1.F + h * (-1.F / 2 + h * (1.F / 24 + h * (-1.F / 720 + h * (1.F / 40320 + h * (-1.F / 3628800)))));
  re = c * c - s * s;
  im = 2.F * s * c;
}

// cos and sin at a block's distances from its middle, for carriers that turn by so much per px.
struct Along {
  Eight cos[kMostFolds], sin[kMostFolds];
};

inline void along(const Eight& turns, bool even, Along& out) {
  Eight c, s;
  unit(0.5F * turns, c, s);
  out.cos[0] = even ? c : Eight{} + 1.F;
  out.sin[0] = even ? s : Eight{};
  const Eight c2 = c * c - s * s, s2 = 2.F * c * s;
  for (int k = 1; k < kMostFolds; ++k) {
    out.cos[k] = out.cos[k - 1] * c2 - out.sin[k - 1] * s2;
    out.sin[k] = out.sin[k - 1] * c2 + out.cos[k - 1] * s2;
  }
}

SHEETLOUPE_WIDE void sums_of_block(const Folded& z, bool even, const Plane& s, const Plane& t,
                                   const std::vector<EightCarriers>& carriers, EightSums* sums) {
  for (std::size_t i = 0; i < carriers.size(); ++i) {
    const Eight &a = carriers[i].a, &b = carriers[i].b;
    Along x, y;
    along(a * s.x + b * t.x, even, x);
    along(a * s.y + b * t.y, even, y);
    Eight p = {}, q = {};
    for (int k = 0; k < kMostFolds; ++k) {
      for (int l = 0; l < kMostFolds; ++l) {
        p += y.cos[k] * (x.cos[l] * z.part[0][0][k][l]) - y.sin[k] * (x.sin[l] * z.part[1][1][k][l]);
        q -= y.cos[k] * (x.sin[l] * z.part[0][1][k][l]) + y.sin[k] * (x.cos[l] * z.part[1][0][k][l]);
      }
    }
    Eight c, d;
    unit(a * s.middle + b * t.middle, c, d);
    sums[i] = {p * c + q * d, q * c - p * d};
  }
}

}  // namespace

std::vector<EightCarriers> in_eights(const std::vector<Index>& indices) {
  std::vector<EightCarriers> carriers((indices.size() + kLanes - 1) / kLanes);
  for (std::size_t i = 0; i < indices.size(); ++i) {
    carriers[i / kLanes].a[i % kLanes] = static_cast<float>(indices[i].a);
    carriers[i / kLanes].b[i % kLanes] = static_cast<float>(indices[i].b);
  }
  return carriers;
}

BlockSums::BlockSums(const cv::Mat1f& z, const cv::Mat1f& s, const cv::Mat1f& t, int block)
    : z_(z), s_(s), t_(t), block_(block) {
  CV_Assert(block >= 1 && block <= kMostBlock && s.size() == t.size() && z.size() == s.size() * (2 * block));
}

void BlockSums::fold_rows(int block_row) {
  for (int k = 0; k < (block_ + 1) / 2; ++k) {
    const int far = block_ / 2 + k, near = block_ - 1 - far;
    const cv::Mat1f a = z_.row(block_row * block_ + far), b = z_.row(block_row * block_ + near);
    cv::subtract(a, b, folded_rows_[1][k]);
    if (far == near)
      folded_rows_[0][k] = a;
    else
      cv::add(a, b, folded_rows_[0][k]);
  }
}

void BlockSums::fold(int block_col) {
  for (int k = 0; k < (block_ + 1) / 2; ++k) {
    const int far = block_ / 2 + k, near = block_ - 1 - far;
    for (int y = 0; y < (block_ + 1) / 2; ++y) {
      for (int odd = 0; odd < 2; ++odd) {
        const float* row = folded_rows_[odd][y][0] + block_col * block_;
        folded_.part[odd][0][y][k] = far == near ? row[far] : row[far] + row[near];
        folded_.part[odd][1][y][k] = row[far] - row[near];
      }
    }
  }
}

void BlockSums::row(int block_row, const std::vector<EightCarriers>& carriers, std::vector<EightSums>& out) {
  const int blocks = 2 * s_.cols;
  const float per_px = 0.5F / static_cast<float>(block_);
  const Between rows = between(block_row, s_.rows);
  out.resize(blocks * carriers.size());
  fold_rows(block_row);
  for (int c = 0; c < blocks; ++c) {
    const Between cols = between(c, s_.cols);
    fold(c);
    sums_of_block(folded_, block_ % 2 == 0, plane_of(s_, rows, cols, per_px), plane_of(t_, rows, cols, per_px),
                  carriers, &out[c * carriers.size()]);
  }
}

}  // namespace sheetloupe::weave
