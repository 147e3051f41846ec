#include "scale/bundle.h"

#include <ceres/ceres.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "sheetloupe/median.h"

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
ceres::ResidualBlockId add_prior(ceres::Problem& problem, std::array<double, N> mean, std::array<double, N> sd,
                                 double* block) {
  return problem.AddResidualBlock(new ceres::AutoDiffCostFunction<PriorCost<N>, N, N>(new PriorCost<N>{mean, sd}),
                                  nullptr, block);
}

ceres::ResidualBlockId add_camera_prior(ceres::Problem& problem, const Priors& p, Unknowns& u) {
  // Order of CameraIndex; tilt and scale have no prior.
  return add_prior<kCameraSize>(problem, {0, 0, 0, p.log_f_mean, 0, 0, 0, 0, 0, 0, 0, 0},
                                {0, 0, 0, p.log_f, p.k1, p.k2, p.decentering, p.decentering, p.principal_px,
                                 p.principal_px, p.shutter, p.shutter},
                                u.camera.data());
}

void add_priors(ceres::Problem& problem, const BundleInput& input, Unknowns& u) {
  const Priors& p = input.priors;
  add_camera_prior(problem, p, u);
  add_prior<kPrintSize>(problem, {p.log_print_mean, 0, 0}, {p.log_print, p.anisotropy, p.bias_mm}, u.print.data());
  add_prior<1>(problem, {0.0}, {p.table_bow_mm}, &u.tau);
  add_prior<1>(problem, {p.thickness_mean}, {p.thickness}, &u.thickness);
  for (const int k : u.strips) {
    add_prior<kStripSize>(problem, {0, 0, 0, p.height_mean_mm, 0, p.bow_mean_mm},
                          {0, 0, 0, p.height[k], p.lift[k], p.bow_mm}, u.strip[k].data());
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
  for (const int id : markers_used(input)) {
    const double sd = input.priors.growth_px / px_per_mm(u);
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

bool run(ceres::Problem& problem, double* cost) {
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_NORMAL_CHOLESKY;
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

bool solve(const BundleInput& input, Unknowns& u, double sigma, bool robust, double* cost) {
  ceres::Problem problem;
  build(problem, input, u, sigma, robust);
  return run(problem, cost);
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
  const double estimated =
      12.0 + 3.0 * static_cast<double>(u.strips.size()) + 2.0 * static_cast<double>(markers_used(input).size());
  const double freedom = std::max(2.0 * static_cast<double>(miss.size()) - estimated, 4.0);
  return median(miss) / 1.1774 * std::sqrt(2.0 * static_cast<double>(miss.size()) / freedom);
}

// (J^T J)^-1 of the whitened problem, priors as rows; columns in the order of the blocks.
Eigen::MatrixXd covariance_of(ceres::Problem& problem, const std::vector<double*>& blocks) {
  ceres::Problem::EvaluateOptions options;
  options.parameter_blocks = blocks;
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
  return length.cwiseInverse().asDiagonal() * inverse * length.cwiseInverse().asDiagonal();
}

Eigen::MatrixXd covariance_of(const BundleInput& input, Unknowns& u, double sigma) {
  ceres::Problem problem;
  build(problem, input, u, sigma, false);
  std::vector<double*> blocks = {u.camera.data(), u.print.data(), &u.tau, &u.thickness};
  for (const int k : u.strips) blocks.push_back(u.strip[k].data());
  for (const int id : markers_used(input)) blocks.push_back(u.growth[id].data());
  return covariance_of(problem, blocks).topLeftCorner(u.size(), u.size());
}

// The costs of a sheet without strips; corners in table mm at height 0.
struct CornerSeenCost {
  ImagePoint seen;
  Frame frame;
  double sd_px;
  template <class T>
  bool operator()(const T* camera, const T* corner, T* residual) const {
    const Xy<T> q = project(camera, frame, corner[0], corner[1], T(0.0));
    residual[0] = (q.x - T(seen.x)) / T(sd_px);
    residual[1] = (q.y - T(seen.y)) / T(sd_px);
    return true;
  }
};

struct OnSideCost {
  ImagePoint seen;
  Frame frame;
  double sd_px, px_per_mm;
  template <class T>
  bool operator()(const T* camera, const T* from, const T* to, const T* shift, T* residual) const {
    using std::sqrt;
    const Xy<T> p = back_project(camera, frame, T(seen.x), T(seen.y), T(0.0));
    const T dx = to[0] - from[0], dy = to[1] - from[1];
    const T off = ((p.x - from[0]) * dy - (p.y - from[1]) * dx) / sqrt(dx * dx + dy * dy);
    residual[0] = (off * T(px_per_mm) - *shift) / T(sd_px);
    return true;
  }
};

struct LengthCost {
  double mm, sd_mm;
  template <class T>
  bool operator()(const T* a, const T* b, T* residual) const {
    using std::sqrt;
    residual[0] = (sqrt((a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1])) - T(mm)) / T(sd_mm);
    return true;
  }
};

struct SquareCost {
  double sd;
  template <class T>
  bool operator()(const T* a, const T* b, const T* d, T* residual) const {
    using std::sqrt;
    const T x1 = b[0] - a[0], y1 = b[1] - a[1], x2 = d[0] - a[0], y2 = d[1] - a[1];
    residual[0] = (x1 * x2 + y1 * y2) / sqrt((x1 * x1 + y1 * y1) * (x2 * x2 + y2 * y2)) / T(sd);
    return true;
  }
};

struct ParallelCost {
  double sd_mm;
  template <class T>
  bool operator()(const T* a, const T* b, const T* c, const T* d, T* residual) const {
    for (int i = 0; i < 2; ++i) residual[i] = ((b[i] - a[i]) - (c[i] - d[i])) / T(sd_mm);
    return true;
  }
};

// What is estimated of the sheet: its corners, mm, and by how many px each side lies beside its points.
struct Quad {
  std::array<std::array<double, 2>, 4> corner{};
  std::array<double, 4> shift{};
};

// Gives the blocks whose misfit tells whether readings and photo agree.
std::vector<ceres::ResidualBlockId> build_quad(ceres::Problem& problem, const QuadInput& input, Unknowns& u,
                                               Quad& quad) {
  auto& x = quad.corner;
  for (int i = 0; i < 4; ++i) {
    double* const a = x[i].data();
    double* const b = x[(i + 1) % 4].data();
    // End points of a line through n points that scatter by s are sure to 2 s / sqrt(n): each point's weight follows.
    // What moves a side as a whole bends no line: it is an unknown of its own, so the lens is told by the scatter
    // alone.
    const double n = static_cast<double>(input.side_px[i].size());
    double* const shift = &quad.shift[i];
    for (const ImagePoint& p : input.side_px[i]) {
      auto* cost = new ceres::AutoDiffCostFunction<OnSideCost, 1, kCameraSize, 2, 2, 1>(
          new OnSideCost{p, input.frame, input.side_sd_px[i] * std::sqrt(n) / 2.0, px_per_mm(u)});
      problem.AddResidualBlock(cost, new ceres::CauchyLoss(2.5), u.camera.data(), a, b, shift);
    }
    if (!input.side_px[i].empty()) {
      add_prior<1>(problem, {0.0}, {std::max(input.side_shift_sd_px, 0.01)}, shift);
    }
    const bool spoken_for = !input.side_px[i].empty() && !input.side_px[(i + 3) % 4].empty();
    const double sd_px = spoken_for ? 20.0 : input.corner_sd_px;  // loose: only keeps the corners in place
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<CornerSeenCost, 2, kCameraSize, 2>(
                                 new CornerSeenCost{input.corners_px[i], input.frame, sd_px}),
                             nullptr, u.camera.data(), a);
  }
  std::vector<ceres::ResidualBlockId> judged;
  for (const QuadInput::Reading& r : input.readings) {
    judged.push_back(
        problem.AddResidualBlock(new ceres::AutoDiffCostFunction<LengthCost, 1, 2, 2>(new LengthCost{r.mm, r.sd_mm}),
                                 nullptr, x[r.from].data(), x[r.to].data()));
  }
  if (input.square_sd > 0) {
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<SquareCost, 1, 2, 2, 2>(new SquareCost{input.square_sd}),
                             nullptr, x[0].data(), x[1].data(), x[3].data());
  }
  if (input.parallel_sd > 0) {
    problem.AddResidualBlock(
        new ceres::AutoDiffCostFunction<ParallelCost, 2, 2, 2, 2, 2>(new ParallelCost{input.parallel_sd}), nullptr,
        x[0].data(), x[1].data(), x[2].data(), x[3].data());
  }
  judged.push_back(add_camera_prior(problem, input.priors, u));
  return judged;
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

Fit fit_quad(const QuadInput& input, const Unknowns& start) {
  Fit fit;
  fit.unknowns = start;
  fit.unknowns.thickness = 0.0;
  Quad quad;
  for (int i = 0; i < 4; ++i) {
    const auto p = back_project(start.camera.data(), input.frame, input.corners_px[i].x, input.corners_px[i].y, 0.0);
    quad.corner[i] = {p.x, p.y};
  }
  ceres::Problem problem;
  const auto judged = build_quad(problem, input, fit.unknowns, quad);
  double cost = 0.0;
  fit.converged = run(problem, &cost);
  if (!fit.converged) return fit;
  for (const auto block : judged) {
    problem.EvaluateResidualBlock(block, true, &cost, nullptr, nullptr);
    fit.chi2 += 2.0 * cost;
  }
  std::vector<double*> blocks = {fit.unknowns.camera.data()};
  for (auto& corner : quad.corner) blocks.push_back(corner.data());
  for (int i = 0; i < 4; ++i) {
    if (!input.side_px[i].empty()) blocks.push_back(&quad.shift[i]);
  }
  fit.covariance = Eigen::MatrixXd::Zero(fit.unknowns.size(), fit.unknowns.size());
  fit.covariance.topLeftCorner(kCameraSize, kCameraSize) =
      covariance_of(problem, blocks).topLeftCorner(kCameraSize, kCameraSize);
  return fit;
}

}  // namespace sheetloupe::scale
