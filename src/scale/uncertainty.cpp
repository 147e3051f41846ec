#include "scale/uncertainty.h"

#include <Eigen/Dense>
#include <algorithm>
#include <numbers>
#include <vector>

namespace sheetloupe::scale {
namespace {

constexpr int kGridSteps = 8;  // 9 x 9 points

// Bilinear between the corners, in the photo: close enough to evenly spread, corners included.
std::vector<ImagePoint> face_grid(const std::array<ImagePoint, 4>& c) {
  std::vector<ImagePoint> grid;
  for (int row = 0; row <= kGridSteps; ++row) {
    for (int column = 0; column <= kGridSteps; ++column) {
      const double u = static_cast<double>(column) / kGridSteps, v = static_cast<double>(row) / kGridSteps;
      grid.push_back({(1 - v) * ((1 - u) * c[0].x + u * c[1].x) + v * ((1 - u) * c[3].x + u * c[2].x),
                      (1 - v) * ((1 - u) * c[0].y + u * c[1].y) + v * ((1 - u) * c[3].y + u * c[2].y)});
    }
  }
  return grid;
}

Eigen::MatrixX2d on_face(const Unknowns& u, const Frame& frame, const std::vector<ImagePoint>& grid) {
  Eigen::MatrixX2d mm(grid.size(), 2);
  for (std::size_t i = 0; i < grid.size(); ++i) {
    const auto p = back_project(u.camera.data(), frame, grid[i].x, grid[i].y, u.thickness);
    mm.row(static_cast<Eigen::Index>(i)) << p.x, p.y;
  }
  return mm;
}

// Camera and thickness; strips and print do not.
bool moves_face(int unknown) { return unknown < kCameraSize || unknown == kCameraSize + kPrintSize + 1; }

double rounded_up(double value) { return std::max(0.05, std::ceil(value / 0.05 - 1e-9) * 0.05); }

double quantile95(std::vector<double> values) {
  const std::size_t index =
      std::min(values.size() - 1, static_cast<std::size_t>(0.95 * static_cast<double>(values.size())));
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(index), values.end());
  return values[index];
}

// Priors may be up to twice too hopeful; with this factor the interval still covers then.
constexpr double kMargin = 1.25;

}  // namespace

Gauss::Gauss(unsigned seed) : state_(0x9E3779B97F4A7C15ULL * (seed + 1ULL)) {}

// splitmix64 (Steele, Lea, Flood 2014), 53 bits of it.
double Gauss::uniform() {
  state_ += 0x9E3779B97F4A7C15ULL;
  unsigned long long z = state_;
  z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
  z ^= z >> 31U;
  return (static_cast<double>(z >> 11U) + 0.5) / 9007199254740992.0;
}

double Gauss::operator()() {
  const double a = uniform(), b = uniform();
  return std::sqrt(-2.0 * std::log(a)) * std::cos(2.0 * std::numbers::pi * b);
}

Eigen::MatrixX2d rigidly_aligned(const Eigen::MatrixX2d& from, const Eigen::MatrixX2d& to) {
  const Eigen::RowVector2d a = from.colwise().mean(), b = to.colwise().mean();
  const Eigen::MatrixX2d x = from.rowwise() - a, y = to.rowwise() - b;
  const double dot = (x.cwiseProduct(y)).sum();
  const double cross = x.col(0).dot(y.col(1)) - x.col(1).dot(y.col(0));
  const double length = std::hypot(dot, cross), c = dot / length, s = cross / length;
  Eigen::MatrixX2d turned(from.rows(), 2);
  turned.col(0) = c * x.col(0) - s * x.col(1);
  turned.col(1) = s * x.col(0) + c * x.col(1);
  return turned.rowwise() + b;
}

double position_u95_mm(const Fit& fit, const Frame& frame, const std::array<ImagePoint, 4>& corners, int draws,
                       unsigned seed, double grow) {
  const std::vector<ImagePoint> grid = face_grid(corners);
  const Eigen::MatrixX2d base = on_face(fit.unknowns, frame, grid);
  const int n = fit.unknowns.size();
  // Derivatives by central differences over half a standard deviation.
  std::vector<Eigen::MatrixX2d> derivative(n, Eigen::MatrixX2d::Zero(base.rows(), 2));
  for (int i = 0; i < n; ++i) {
    const double step = 0.5 * std::sqrt(std::max(fit.covariance(i, i), 0.0));
    if (!moves_face(i) || step <= 0) continue;
    Unknowns more = fit.unknowns, less = fit.unknowns;
    *more.at(i) += step;
    *less.at(i) -= step;
    derivative[i] =
        (rigidly_aligned(on_face(more, frame, grid), base) - rigidly_aligned(on_face(less, frame, grid), base)) /
        (2 * step);
  }
  // A square root of the covariance by its eigenvectors: it may be nearly singular.
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(fit.covariance);
  const Eigen::MatrixXd root = eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
  Gauss gauss(seed);
  std::vector<double> largest;
  for (int draw = 0; draw < draws; ++draw) {
    Eigen::VectorXd z(n);
    for (int i = 0; i < n; ++i) z[i] = gauss();
    const Eigen::VectorXd change = root * z;
    Eigen::MatrixX2d moved = Eigen::MatrixX2d::Zero(base.rows(), 2);
    for (int i = 0; i < n; ++i) moved += derivative[i] * change[i];
    largest.push_back(moved.rowwise().norm().maxCoeff());
  }
  return rounded_up(grow * kMargin * quantile95(std::move(largest)));
}

double length_sd_mm(const Fit& fit, const Frame& frame, ImagePoint a, ImagePoint b) {
  const auto length = [&](const Unknowns& u) {
    const Eigen::MatrixX2d p = on_face(u, frame, {a, b});
    return (p.row(0) - p.row(1)).norm();
  };
  Eigen::VectorXd derivative = Eigen::VectorXd::Zero(fit.unknowns.size());
  for (int i = 0; i < fit.unknowns.size(); ++i) {
    const double step = 0.5 * std::sqrt(std::max(fit.covariance(i, i), 0.0));
    if (!moves_face(i) || step <= 0) continue;
    Unknowns more = fit.unknowns, less = fit.unknowns;
    *more.at(i) += step;
    *less.at(i) -= step;
    derivative[i] = (length(more) - length(less)) / (2 * step);
  }
  return std::sqrt(std::max(0.0, derivative.dot(fit.covariance * derivative)));
}

}  // namespace sheetloupe::scale
