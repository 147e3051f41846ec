// Carriers taken out of one row of small blocks of the picture, eight at once.
#pragma once

#include <array>
#include <opencv2/core.hpp>
#include <vector>

#include "weave/lanes.h"
#include "weave/lattice.h"

namespace sheetloupe::weave {

struct EightCarriers {
  Eight a = {}, b = {};
};

struct EightSums {
  Eight re = {}, im = {};
};

std::vector<EightCarriers> in_eights(const std::vector<Index>& indices);

constexpr int kMostFolds = 2, kMostBlock = 2 * kMostFolds;

/// A block's px folded about its middle: sums and differences of the px at equal distances on both sides, along x and
/// along y. Distances are 1/2 and 3/2 px where a side has an even number of px, else 0 and 1.
struct Folded {
  // [sum or difference along y][the same along x][distance along y][distance along x]
  float part[2][2][kMostFolds][kMostFolds] = {};
};

/// Sums of z e^(-2 pi i (a s + b t)) over blocks of `block` x `block` px, [1, kMostBlock]. `s` and `t` are tow counts
/// on nodes of two blocks each way. Between nodes, and beyond the outermost, the counts are linear: node middles are
/// corners of blocks, so that no block holds a kink, and within a block, half a tow wide, they are taken as planes.
class BlockSums {
 public:
  BlockSums(const cv::Mat1f& z, const cv::Mat1f& s, const cv::Mat1f& t, int block);

  /// All blocks of one row, one after the other, each with all carriers.
  void row(int block_row, const std::vector<EightCarriers>& carriers, std::vector<EightSums>& out);

 private:
  void fold_rows(int block_row);
  void fold(int block_col);

  const cv::Mat1f &z_, &s_, &t_;
  int block_;
  cv::Mat1f folded_rows_[2][kMostFolds];  // sum or difference along y, by distance
  Folded folded_;
};

}  // namespace sheetloupe::weave
