#include "scale/bundle.h"

#include <ceres/ceres.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace sheetloupe::scale {
namespace {

// One marker corner, two residuals in units of sigma.
struct CornerCost {
  Observation o;
  Frame frame;
  double base, sigma;
  template <class T>
  bool operator()(const T* camera, const T* print, const T* tau, const T* strip, const T* growth, T* residual) const {
    const TablePoint<T> p = strip_point(strip, print, *tau, growth, base, o.centre_along, o.sx, o.sy);
    const Xy<T> q = project(camera, frame, p.x, p.y, p.w);
    residual[0] = (q.x - T(o.seen.x)) / T(sigma);
    residual[1] = (q.y - T(o.seen.y)) / T(sigma);
    return true;
  }
};

struct SideCost {
  SideConstraint side;
  Frame frame;
  double sd_mm;
  template <class T>
  bool operator()(const T* camera, const T* thickness, T* residual) const {
    using std::sqrt;
    const Xy<T> a = back_project(camera, frame, T(side.a.x), T(side.a.y), *thickness);
    const Xy<T> b = back_project(camera, frame, T(side.b.x), T(side.b.y), *thickness);
    residual[0] = (sqrt((a.x - b.x) * (a.x - b.x) + (a.y - b.y) * (a.y - b.y)) - T(side.length_mm)) / T(sd_mm);
    return true;
  }
};

// A parameter block pulled to its mean; a standard deviation of 0 means no prior.
template <int N>
struct PriorCost {
  std::array<double, N> mean, sd;
  template <class T>
  bool operator()(const T* block, T* residual) const {
    for (int i = 0; i < N; ++i) residual[i] = sd[i] > 0 ? (block[i] - T(mean[i])) / T(sd[i]) : T(0.0);
    return true;
  }
};

template <int N>
void add_prior(ceres::Problem& problem, std::array<double, N> mean, std::array<double, N> sd, double* block) {
  problem.AddResidualBlock(new ceres::AutoDiffCostFunction<PriorCost<N>, N, N>(new PriorCost<N>{mean, sd}), nullptr,
                           block);
}

void add_priors(ceres::Problem& problem, const BundleInput& input, Unknowns& u) {
  const Priors& p = input.priors;
  // Order of CameraIndex. The lens figures are what phone cameras leave after their own correction; the principal point
  // moves with optical stabilisation; shear and stretch: some 0.15 mm of hand motion while the sensor is read.
  add_prior<kCameraSize>(problem, {0, 0, 0, p.log_f_mean, 0, 0, 0, 0, 0, 0, 0, 0},
                         {0, 0, 0, p.log_f, 0.02, 0.02, 5e-4, 5e-4, 25, 25, 4e-4, 4e-4}, u.camera.data());
  add_prior<kPrintSize>(problem, {p.log_print_mean, 0, 0}, {p.log_print, 0.005, 0.3}, u.print.data());
  add_prior<1>(problem, {0.0}, {0.15}, &u.tau);
  add_prior<1>(problem, {p.thickness_mean}, {p.thickness}, &u.thickness);
  for (const int k : u.strips) {
    // Taped paper lies a tenth of a millimetre up and bows a little.
    add_prior<kStripSize>(problem, {0, 0, 0, 0.08, 0, 0.2}, {0, 0, 0, p.height[k], p.lift[k], 0.5}, u.strip[k].data());
  }
}

// Scale at the foot point, px per mm: turns a corner's px into mm for the side constraints.
double px_per_mm(const Unknowns& u) { return std::exp(u.camera[kLogM]); }

std::vector<int> markers_used(const BundleInput& input) {
  std::vector<int> ids;
  for (const Observation& o : input.observations) {
    if (o.used && std::find(ids.begin(), ids.end(), o.marker_id) == ids.end()) ids.push_back(o.marker_id);
  }
  return ids;
}

void build(ceres::Problem& problem, const BundleInput& input, Unknowns& u, double sigma, bool robust) {
  for (const Observation& o : input.observations) {
    if (!o.used) continue;
    auto* cost = new ceres::AutoDiffCostFunction<CornerCost, 2, kCameraSize, kPrintSize, 1, kStripSize, 2>(
        new CornerCost{o, input.frame, input.strip_height_mm, sigma});
    problem.AddResidualBlock(cost, robust ? new ceres::CauchyLoss(2.5) : nullptr, u.camera.data(), u.print.data(),
                             &u.tau, u.strip[o.strip].data(), u.growth[o.marker_id].data());
  }
  // Print, blur and tone curve shrink a marker by a different amount in brighter and darker places, always evenly about
  // its centre: on rendered photos one marker's sides lie 0.02 to 0.15 px (worst 0.37) from the common bias while
  // opposite sides agree to 0.01 px.
  constexpr double kGrowthSdPx = 0.15;
  for (const int id : markers_used(input)) {
    const double sd = kGrowthSdPx / px_per_mm(u);
    add_prior<2>(problem, {0, 0}, {sd, sd}, u.growth[id].data());
  }
  for (const SideConstraint& side : input.sides) {
    const double corner_mm = side.corner_sd_px / px_per_mm(u);
    const double sd = std::sqrt(side.sd_mm * side.sd_mm + 2 * corner_mm * corner_mm);
    problem.AddResidualBlock(
        new ceres::AutoDiffCostFunction<SideCost, 1, kCameraSize, 1>(new SideCost{side, input.frame, sd}), nullptr,
        u.camera.data(), &u.thickness);
  }
  add_priors(problem, input, u);
}

bool solve(const BundleInput& input, Unknowns& u, double sigma, bool robust, double* cost) {
  ceres::Problem problem;
  build(problem, input, u, sigma, robust);
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_QR;
  options.max_num_iterations = 200;
  options.function_tolerance = 1e-10;
  options.parameter_tolerance = 1e-12;
  options.num_threads = 1;
  options.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &problem, &summary);
  *cost = summary.final_cost;
  return summary.IsSolutionUsable();
}

double miss_px(const BundleInput& input, const Unknowns& u, const Observation& o) {
  const auto p = strip_point(u.strip[o.strip].data(), u.print.data(), u.tau, u.growth[o.marker_id].data(),
                             input.strip_height_mm, o.centre_along, o.sx, o.sy);
  const auto q = project(u.camera.data(), input.frame, p.x, p.y, p.w);
  return std::hypot(q.x - o.seen.x, q.y - o.seen.y);
}

// Robust scatter per axis: a 2-D Gaussian's distance has median 1.1774 sigma (Rayleigh). Fitted parameters eat some of
// it: corrected by the share of freedom left.
double robust_sigma(const BundleInput& input, const Unknowns& u) {
  std::vector<double> miss;
  for (const Observation& o : input.observations) {
    if (o.used) miss.push_back(miss_px(input, u, o));
  }
  if (miss.empty()) return 0.0;
  std::nth_element(miss.begin(), miss.begin() + miss.size() / 2, miss.end());
  const double estimated =
      12.0 + 3.0 * static_cast<double>(u.strips.size()) + 2.0 * static_cast<double>(markers_used(input).size());
  const double freedom = std::max(2.0 * static_cast<double>(miss.size()) - estimated, 4.0);
  return miss[miss.size() / 2] / 1.1774 * std::sqrt(2.0 * static_cast<double>(miss.size()) / freedom);
}

// (J^T J)^-1 of the whitened problem, priors as rows.
Eigen::MatrixXd covariance_of(const BundleInput& input, Unknowns& u, double sigma) {
  ceres::Problem problem;
  build(problem, input, u, sigma, false);
  ceres::Problem::EvaluateOptions options;
  options.parameter_blocks = {u.camera.data(), u.print.data(), &u.tau, &u.thickness};
  for (const int k : u.strips) options.parameter_blocks.push_back(u.strip[k].data());
  for (const int id : markers_used(input)) options.parameter_blocks.push_back(u.growth[id].data());
  ceres::CRSMatrix sparse;
  problem.Evaluate(options, nullptr, nullptr, nullptr, &sparse);
  Eigen::MatrixXd j = Eigen::MatrixXd::Zero(sparse.num_rows, sparse.num_cols);
  for (int row = 0; row < sparse.num_rows; ++row) {
    for (int i = sparse.rows[row]; i < sparse.rows[row + 1]; ++i) j(row, sparse.cols[i]) = sparse.values[i];
  }
  // Columns differ by many powers of ten (radians, px): scaled to unit length before the inverse.
  Eigen::VectorXd length = j.colwise().norm().transpose();
  for (Eigen::Index i = 0; i < length.size(); ++i) length[i] = std::max(length[i], 1e-12);
  const Eigen::MatrixXd scaled = j * length.cwiseInverse().asDiagonal();
  const Eigen::MatrixXd inverse = (scaled.transpose() * scaled).completeOrthogonalDecomposition().pseudoInverse();
  const Eigen::MatrixXd all = length.cwiseInverse().asDiagonal() * inverse * length.cwiseInverse().asDiagonal();
  return all.topLeftCorner(u.size(), u.size());
}

}  // namespace

double* Unknowns::at(int index) {
  if (index < kCameraSize) return &camera[index];
  index -= kCameraSize;
  if (index < kPrintSize) return &print[index];
  index -= kPrintSize;
  if (index == 0) return &tau;
  if (index == 1) return &thickness;
  index -= 2;
  return &strip[strips[index / kStripSize]][index % kStripSize];
}

Fit fit_bundle(BundleInput& input, const Unknowns& start, double reject_sigmas, double fixed_sigma_px) {
  constexpr double kSigmaFloorPx = 0.05;
  Fit fit;
  fit.unknowns = start;
  double cost = 0.0;
  double sigma = fixed_sigma_px > 0 ? fixed_sigma_px : 0.3;
  if (fixed_sigma_px <= 0) {
    for (int round = 0; round < 4; ++round) {
      if (!solve(input, fit.unknowns, sigma, true, &cost)) return fit;
      const double next = std::max(robust_sigma(input, fit.unknowns), kSigmaFloorPx);
      const bool settled = std::abs(next - sigma) < 0.02 * sigma;
      sigma = next;
      if (settled) break;
    }
    for (Observation& o : input.observations) {
      o.used = miss_px(input, fit.unknowns, o) <= reject_sigmas * std::max(sigma, 0.1);
    }
    sigma = std::max(robust_sigma(input, fit.unknowns), kSigmaFloorPx);
  }
  fit.converged = solve(input, fit.unknowns, sigma, false, &cost);
  fit.sigma_px = sigma;
  fit.chi2 = 2.0 * cost;
  if (fit.converged) fit.covariance = covariance_of(input, fit.unknowns, sigma);
  return fit;
}

}  // namespace sheetloupe::scale
