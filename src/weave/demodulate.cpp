#include "weave/demodulate.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

namespace sheetloupe::weave {
namespace {

constexpr int kLanes = 16;  // px worked on together: a fixed number lets the compiler use wide registers
using Lanes = std::array<float, kLanes>;

struct ComplexLanes {
  Lanes re{}, im{};
};

// A carrier in whole steps of the common divisor.
struct Steps {
  int a = 0, b = 0;
};

// The coarsest common step that holds all indices: a quarter, a tenth or a twentieth of a tow.
int divisor_of(const std::vector<Index>& indices) {
  for (const int d : {4, 10, 20}) {
    const bool whole = std::all_of(indices.begin(), indices.end(), [&](const Index& i) {
      return std::abs(std::remainder(i.a * d, 1.0)) < 1e-6 && std::abs(std::remainder(i.b * d, 1.0)) < 1e-6;
    });
    if (whole) return d;
  }
  throw std::logic_error("a carrier off the common steps");
}

// Node values at every pixel, linear between nodes and beyond the outermost.
cv::Mat1f per_pixel(const cv::Mat1f& nodes, const cv::Size& size, int block) {
  cv::Mat1f wide;
  cv::copyMakeBorder(nodes, wide, 1, 1, 1, 1, cv::BORDER_REPLICATE);
  if (nodes.cols > 1) {
    for (int r = 0; r < wide.rows; ++r) {
      wide(r, 0) = 2 * wide(r, 1) - wide(r, 2);
      wide(r, wide.cols - 1) = 2 * wide(r, wide.cols - 2) - wide(r, wide.cols - 3);
    }
  }
  if (nodes.rows > 1) {
    for (int c = 0; c < wide.cols; ++c) {
      wide(0, c) = 2 * wide(1, c) - wide(2, c);
      wide(wide.rows - 1, c) = 2 * wide(wide.rows - 2, c) - wide(wide.rows - 3, c);
    }
  }
  // Whole blocks: enlarging by an integer keeps node centres at block centres.
  cv::Mat1f large;
  cv::resize(wide, large, {}, block, block, cv::INTER_LINEAR);
  cv::Mat1f out;
  large(cv::Rect(block, block, nodes.cols * block, nodes.rows * block)).copyTo(out);
  CV_Assert(out.cols <= size.width && out.rows <= size.height);
  return out;
}

// e^(-2 pi i x / divisor) of one row.
void turn_of_row(const float* count, int cols, int divisor, cv::Mat1f& re, cv::Mat1f& im) {
  cv::Mat1f angle(1, cols);
  const float per = 1.0F / static_cast<float>(divisor), full = static_cast<float>(2 * CV_PI);
  for (int x = 0; x < cols; ++x) {
    const float turns = count[x] * per;
    angle(0, x) = full * (std::ceil(turns) - turns);
  }
  cv::polarToCart(cv::noArray(), angle, re, im);
}

// Powers 0 .. most of a unit number by repeated multiplication.
void powers(const ComplexLanes& base, int most, std::vector<ComplexLanes>& out) {
  for (int k = 1; k <= most; ++k) {
    const ComplexLanes& p = out[k - 1];
    ComplexLanes& q = out[k];
    for (int x = 0; x < kLanes; ++x) {
      q.re[x] = p.re[x] * base.re[x] - p.im[x] * base.im[x];
      q.im[x] = p.re[x] * base.im[x] + p.im[x] * base.re[x];
    }
  }
}

void add_product(const ComplexLanes& s, const ComplexLanes& t, float sign, ComplexLanes& sum) {
  for (int x = 0; x < kLanes; ++x) {
    const float im = sign * t.im[x];
    sum.re[x] += s.re[x] * t.re[x] - s.im[x] * im;
    sum.im[x] += s.re[x] * im + s.im[x] * t.re[x];
  }
}

// One row of nodes of every carrier.
class RowWorker {
 public:
  RowWorker(const cv::Mat1f& z, const cv::Mat1f& s, const cv::Mat1f& t, int block, int divisor,
            const std::vector<Steps>& carriers)
      : z_(z), s_(s), t_(t), block_(block), divisor_(divisor), carriers_(carriers), sums_(carriers.size()) {
    for (const Steps& c : carriers) {
      most_s_ = std::max(most_s_, c.a);
      most_t_ = std::max(most_t_, std::abs(c.b));
    }
    powers_s_.resize(most_s_ + 1);
    powers_t_.resize(most_t_ + 1);
    powers_t_[0].re.fill(1.F);
  }

  void run(int node_row, std::vector<cv::Mat2f>& out) {
    const int cols = s_.cols, nodes = cols / block_, step = kLanes / block_;
    std::vector<std::array<cv::Mat1f, 4>> turns(block_);
    for (int y = 0; y < block_; ++y) {
      turn_of_row(s_[node_row * block_ + y], cols, divisor_, turns[y][0], turns[y][1]);
      turn_of_row(t_[node_row * block_ + y], cols, divisor_, turns[y][2], turns[y][3]);
    }
    for (int first = 0; first < nodes; first += step) {
      const int count = std::min(step, nodes - first), x0 = first * block_, used = count * block_;
      for (ComplexLanes& sum : sums_) sum = {};
      for (int y = 0; y < block_; ++y) {
        ComplexLanes s, t;
        Lanes z{};
        for (int x = 0; x < used; ++x) {
          z[x] = z_(node_row * block_ + y, x0 + x);
          s.re[x] = turns[y][0](0, x0 + x);
          s.im[x] = turns[y][1](0, x0 + x);
          t.re[x] = turns[y][2](0, x0 + x);
          t.im[x] = turns[y][3](0, x0 + x);
        }
        powers_s_[0].re = z;
        powers_s_[0].im.fill(0.F);
        powers(s, most_s_, powers_s_);
        powers(t, most_t_, powers_t_);
        for (std::size_t i = 0; i < carriers_.size(); ++i) {
          const Steps& c = carriers_[i];
          add_product(powers_s_[c.a], powers_t_[std::abs(c.b)], c.b < 0 ? -1.F : 1.F, sums_[i]);
        }
      }
      for (std::size_t i = 0; i < carriers_.size(); ++i) {
        for (int k = 0; k < count; ++k) {
          cv::Vec2f sum(0, 0);
          for (int x = k * block_; x < (k + 1) * block_; ++x) sum += cv::Vec2f(sums_[i].re[x], sums_[i].im[x]);
          out[i](node_row, first + k) = sum;
        }
      }
    }
  }

 private:
  const cv::Mat1f &z_, &s_, &t_;
  int block_, divisor_;
  const std::vector<Steps>& carriers_;
  int most_s_ = 0, most_t_ = 0;
  std::vector<ComplexLanes> powers_s_, powers_t_, sums_;
};

}  // namespace

std::vector<cv::Mat2f> demodulate(const Normalised& n, const cv::Mat1f& s, const cv::Mat1f& t, int block,
                                  const std::vector<Index>& indices, double sigma_nodes) {
  CV_Assert(block >= 1 && block <= kLanes && s.size() == t.size());
  const int divisor = divisor_of(indices);
  std::vector<Steps> carriers;
  for (const Index& i : indices) {
    CV_Assert(i.a >= 0);
    carriers.push_back({cvRound(i.a * divisor), cvRound(i.b * divisor)});
  }
  const cv::Mat1f ps = per_pixel(s, n.z.size(), block), pt = per_pixel(t, n.z.size(), block);
  std::vector<cv::Mat2f> out(indices.size());
  for (cv::Mat2f& d : out) d = cv::Mat2f(s.size());
  cv::parallel_for_(cv::Range(0, s.rows), [&](const cv::Range& range) {
    RowWorker worker(n.z, ps, pt, block, divisor, carriers);
    for (int r = range.start; r < range.end; ++r) worker.run(r, out);
  });
  cv::parallel_for_(cv::Range(0, static_cast<int>(out.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) cv::GaussianBlur(out[i], out[i], {}, sigma_nodes);
  });
  return out;
}

}  // namespace sheetloupe::weave
