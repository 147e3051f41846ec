#include "weave/demodulate.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <stdexcept>

#include "sheetloupe/wide.h"
#include "weave/node_grid.h"

namespace sheetloupe::weave {
namespace {

constexpr int kLanes = 16;  // px worked on together, in eights that fit the machine's vector registers
using Eight = float __attribute__((vector_size(8 * sizeof(float)), aligned(sizeof(float))));
constexpr int kEights = kLanes / 8;

struct ComplexLanes {
  Eight re[kEights] = {}, im[kEights] = {};
  float& real(int x) { return reinterpret_cast<float*>(re)[x]; }
  float& imag(int x) { return reinterpret_cast<float*>(im)[x]; }
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
cv::Mat1f per_pixel(const cv::Mat1f& nodes, int block) {
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
  return out;
}

// e^(-2 pi i x / divisor) of one row.
void turn_of_row(const float* count, int cols, int divisor, cv::Mat1f& re, cv::Mat1f& im) {
  cv::Mat1f angle(1, cols);
  const float per = 1.0F / static_cast<float>(divisor), full = static_cast<float>(2 * CV_PI);
  float* to = angle[0];
  for (int x = 0; x < cols; ++x) {
    const float turns = count[x] * per;
    const auto cut = static_cast<float>(static_cast<int>(turns)), above = cut < turns ? cut + 1.F : cut;
    to[x] = full * (above - turns);
  }
  cv::polarToCart(cv::noArray(), angle, re, im);
}

// Powers 0 .. most of a unit number by repeated multiplication.
SHEETLOUPE_WIDE void powers(const ComplexLanes& base, int most, ComplexLanes* out) {
  for (int e = 0; e < kEights; ++e) {
    const Eight re = base.re[e], im = base.im[e];
    Eight p = out[0].re[e], q = out[0].im[e];
    for (int k = 1; k <= most; ++k) {
      const Eight next = p * re - q * im;
      q = p * im + q * re;
      p = next;
      out[k].re[e] = p;
      out[k].im[e] = q;
    }
  }
}

// Every carrier's product of two powers onto its sum.
SHEETLOUPE_WIDE void add_products(const std::vector<Steps>& carriers, const ComplexLanes* powers_s,
                                  const ComplexLanes* powers_t, ComplexLanes* sums) {
  for (std::size_t i = 0; i < carriers.size(); ++i) {
    const ComplexLanes &s = powers_s[carriers[i].a], &t = powers_t[std::abs(carriers[i].b)];
    ComplexLanes& sum = sums[i];
    const bool mirrored = carriers[i].b < 0;
    for (int e = 0; e < kEights; ++e) {
      const Eight a = s.re[e], b = s.im[e], c = t.re[e], d = mirrored ? -t.im[e] : t.im[e];
      sum.re[e] += a * c - b * d;
      sum.im[e] += a * d + b * c;
    }
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
    for (Eight& e : powers_t_[0].re) e = Eight{} + 1.F;
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
        ComplexLanes s, t, z;
        std::copy_n(z_[node_row * block_ + y] + x0, used, &z.real(0));
        std::copy_n(turns[y][0][0] + x0, used, &s.real(0));
        std::copy_n(turns[y][1][0] + x0, used, &s.imag(0));
        std::copy_n(turns[y][2][0] + x0, used, &t.real(0));
        std::copy_n(turns[y][3][0] + x0, used, &t.imag(0));
        powers_s_[0] = z;
        powers(s, most_s_, powers_s_.data());
        powers(t, most_t_, powers_t_.data());
        add_products(carriers_, powers_s_.data(), powers_t_.data(), sums_.data());
      }
      for (std::size_t i = 0; i < carriers_.size(); ++i) {
        for (int k = 0; k < count; ++k) {
          cv::Vec2f sum(0, 0);
          for (int x = k * block_; x < (k + 1) * block_; ++x) sum += cv::Vec2f(sums_[i].real(x), sums_[i].imag(x));
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
  CV_Assert(n.z.size() == s.size() * (2 * block));
  const int divisor = divisor_of(indices);
  std::vector<Steps> carriers;
  for (const Index& i : indices) {
    CV_Assert(i.a >= 0);
    carriers.push_back({cvRound(i.a * divisor), cvRound(i.b * divisor)});
  }
  const cv::Mat1f ps = per_pixel(s, 2 * block), pt = per_pixel(t, 2 * block);
  std::vector<cv::Mat2f> out(indices.size());
  for (cv::Mat2f& d : out) d = cv::Mat2f(s.size() * 2);
  cv::parallel_for_(cv::Range(0, 2 * s.rows), [&](const cv::Range& range) {
    RowWorker worker(n.z, ps, pt, block, divisor, carriers);
    for (int r = range.start; r < range.end; ++r) worker.run(r, out);
  });
  const double rest = std::sqrt(std::max(0.01, sigma_nodes * sigma_nodes - kHalvingVariance / 4));
  cv::parallel_for_(cv::Range(0, static_cast<int>(out.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      out[i] = halved(out[i]);
      cv::GaussianBlur(out[i], out[i], {}, rest);
    }
  });
  return out;
}

}  // namespace sheetloupe::weave
