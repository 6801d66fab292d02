#include "sim/tune/posterior.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_blas.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <Eigen/Dense>
#include <cmath>

#include "models/error.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::tune;

namespace {

Problem unlimited(Eigen::Index unknowns) {
  constexpr double far = 1e9;
  return {unknowns, {}, Eigen::VectorXd::Constant(unknowns, -far), Eigen::VectorXd::Constant(unknowns, far)};
}

// Readings that say y = A x with unit uncertainties.
Problem linear(const Eigen::MatrixXd& A, const Eigen::VectorXd& y) {
  Problem problem = unlimited(A.cols());
  problem.residuals = [A, y](const Eigen::VectorXd& x) -> std::optional<Eigen::VectorXd> {
    return A * x - y;
  };
  return problem;
}

// NIST StRD, Misra1a (dental research, monomolecular adsorption): y = b1 (1 - exp(-b2 x)) [memory: data and
// certified values; the solution is checked by GSL below as well].
constexpr int points = 14;
constexpr double x_data[points] = {77.6,  114.9, 141.1, 190.8, 239.9, 289.0, 332.8,
                                   378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0};
constexpr double y_data[points] = {10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02,
                                   44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78};
constexpr double certified[2] = {2.3894212918e+02, 5.5015643181e-04};
constexpr double certified_deviation[2] = {2.7070075241e+00, 7.2668688436e-06};
constexpr double certified_residual = 1.0187876330e-01;

}  // namespace

// Two unit readings of one unknown with a unit prior: mean (y1 + y2)/3, variance 1/3 (closed form).
TEST_CASE("a linear problem has its closed form") {
  const auto posterior =
      solve(linear(Eigen::Vector2d(1.0, 1.0), Eigen::Vector2d(1.0, 2.0)), Eigen::VectorXd::Zero(1));
  CHECK(posterior.mean[0] == relative(1.0, 1e-6));
  CHECK(posterior.covariance(0, 0) == relative(1.0 / 3.0, 1e-9));
  CHECK(posterior.ended == Posterior::Ended::settled);
}

// The linear model with priors is conjugate: C = (A'A + 1)^-1, mean C A'y.
TEST_CASE("a linear problem of three unknowns, correlated") {
  Eigen::MatrixXd A(4, 3);
  A << 1, 2, 0, 0, 3, 1, 2, 0, 1, 1, 1, 1;
  const Eigen::Vector4d y(1.0, -2.0, 0.5, 3.0);
  const Eigen::Matrix3d C = (A.transpose() * A + Eigen::Matrix3d::Identity()).inverse();
  const Eigen::Vector3d mean = C * A.transpose() * y;
  const auto posterior = solve(linear(A, y), Eigen::VectorXd::Zero(3));
  CHECK((posterior.mean - mean).norm() < 1e-6);
  CHECK((posterior.covariance - C).norm() < 1e-9);
}

TEST_CASE("a certified non-linear fit, under priors too wide to matter") {
  // Unknowns in units of a wide prior about the certificate's second start.
  const double start[2] = {250.0, 0.0005}, width[2] = {2000.0, 0.005};
  Problem problem = unlimited(2);
  problem.step = 1e-5;
  problem.residuals = [&](const Eigen::VectorXd& u) -> std::optional<Eigen::VectorXd> {
    const double b1 = start[0] + width[0] * u[0], b2 = start[1] + width[1] * u[1];
    Eigen::VectorXd r(points);
    for (int i = 0; i < points; ++i)
      r[i] = (b1 * (1.0 - std::exp(-b2 * x_data[i])) - y_data[i]) / certified_residual;
    return r;
  };
  const auto posterior = solve(problem, Eigen::VectorXd::Zero(2));
  for (int k = 0; k < 2; ++k) {
    CAPTURE(k);
    const double found = start[k] + width[k] * posterior.mean[k];
    // The prior pulls by (deviation/width)^2, 2e-6 of the way back to the start; the method stops at 1e-5 of
    // a prior width: both below a hundredth of the certified deviation.
    CHECK(std::fabs(found - certified[k]) < 0.02 * certified_deviation[k]);
    CHECK(width[k] * std::sqrt(posterior.covariance(k, k)) == relative(certified_deviation[k], 2e-3));
  }
}

TEST_CASE("the same by GSL's solver, with the priors as data") {
  const double width[2] = {10.0, 1e-4}, start[2] = {250.0, 0.0005};
  Problem problem = unlimited(2);
  problem.step = 1e-4;
  problem.residuals = [&](const Eigen::VectorXd& u) -> std::optional<Eigen::VectorXd> {
    const double b1 = start[0] + width[0] * u[0], b2 = start[1] + width[1] * u[1];
    Eigen::VectorXd r(points);
    for (int i = 0; i < points; ++i) r[i] = b1 * (1.0 - std::exp(-b2 * x_data[i])) - y_data[i];
    return r;
  };
  const auto posterior = solve(problem, Eigen::VectorXd::Zero(2));

  const auto stacked = [](const gsl_vector* u, void* data, gsl_vector* out) {
    const auto& own = *static_cast<const Problem*>(data);
    const Eigen::Vector2d x(gsl_vector_get(u, 0), gsl_vector_get(u, 1));
    const auto r = *own.residuals(x);
    for (int i = 0; i < points; ++i) gsl_vector_set(out, i, r[i]);
    for (int k = 0; k < 2; ++k) gsl_vector_set(out, points + k, x[k]);
    return static_cast<int>(GSL_SUCCESS);
  };
  gsl_multifit_nlinear_fdf system{};
  system.f = stacked;
  system.n = points + 2;
  system.p = 2;
  system.params = &problem;
  auto parameters = gsl_multifit_nlinear_default_parameters();
  auto* work = gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, system.n, system.p);
  gsl_vector* zero = gsl_vector_calloc(2);
  gsl_multifit_nlinear_init(zero, &system, work);
  int info = 0;
  gsl_multifit_nlinear_driver(100, 1e-10, 1e-10, 1e-10, nullptr, nullptr, &info, work);
  gsl_matrix* covariance = gsl_matrix_alloc(2, 2);
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(work), 0.0, covariance);
  for (int k = 0; k < 2; ++k) {
    const double deviation = std::sqrt(gsl_matrix_get(covariance, k, k));
    CHECK(std::fabs(posterior.mean[k] - gsl_vector_get(work->x, k)) < 1e-3 * deviation);
    CHECK(std::sqrt(posterior.covariance(k, k)) == relative(deviation, 1e-4));
  }
  gsl_matrix_free(covariance);
  gsl_vector_free(zero);
  gsl_multifit_nlinear_free(work);
}

TEST_CASE("a limit is kept, and slopes there are one-sided") {
  auto problem = linear(Eigen::VectorXd::Constant(1, 10.0), Eigen::VectorXd::Constant(1, -50.0));
  problem.least[0] = -1.0;
  const auto posterior = solve(problem, Eigen::VectorXd::Zero(1));
  CHECK(posterior.mean[0] == -1.0);
  CHECK(posterior.jacobian(0, 0) == relative(10.0, 1e-9));
}

TEST_CASE("places that make no sense are turned back from, and none to start from is told") {
  auto problem = linear(Eigen::VectorXd::Constant(1, 1.0), Eigen::VectorXd::Constant(1, 3.0));
  const auto all = problem.residuals;
  problem.residuals = [all](const Eigen::VectorXd& x) { return x[0] > 1.6 ? std::nullopt : all(x); };
  CHECK(solve(problem, Eigen::VectorXd::Zero(1)).mean[0] == relative(1.5, 1e-3));
  problem.residuals = [](const Eigen::VectorXd&) { return std::optional<Eigen::VectorXd>(); };
  CHECK_THROWS_AS(solve(problem, Eigen::VectorXd::Zero(1)), InputError);
}

TEST_CASE("two readings that contradict each other are told from one that fits nothing") {
  // Unknown 1 is read three times, unknown 2 twice; uncertainties a hundredth of the priors.
  Eigen::MatrixXd A(5, 2);
  A << 1, 0, 1, 0, 1, 0, 0, 1, 0, 1;
  A *= 100.0;
  Eigen::VectorXd y = Eigen::VectorXd::Zero(5);
  const auto sound = findings_of(solve(linear(A, y), Eigen::VectorXd::Zero(2)));
  CHECK(sound.unexplained.empty());
  CHECK(sound.contradictions.empty());
  CHECK(sound.degrees_of_freedom == 5);
  CHECK(sound.probability == relative(1.0, 1e-6));

  y[4] = 12.0;  // against reading 4 alone: either may be right
  const auto pair = findings_of(solve(linear(A, y), Eigen::VectorXd::Zero(2)));
  REQUIRE(pair.contradictions.size() == 1);
  CHECK(pair.contradictions[0].first == 3);
  CHECK(pair.contradictions[0].second == 4);
  CHECK(pair.unexplained.empty());
  // Two unit readings 12 apart: 12/sqrt(2) of their difference's deviation.
  CHECK(std::fabs(pair.data[3].residual) == relative(12.0 / std::sqrt(2.0), 1e-3));

  y[4] = 0.0;
  y[0] = 12.0;  // two others agree against it
  const auto one = findings_of(solve(linear(A, y), Eigen::VectorXd::Zero(2)));
  CHECK(one.contradictions.empty());
  REQUIRE(one.unexplained.size() >= 1);
  CHECK(one.unexplained[0] == 0);
  // Leave-one-out: 12 off the mean of two, variance 1 + 1/2.
  CHECK(std::fabs(one.data[0].residual) == relative(12.0 / std::sqrt(1.5), 1e-3));
}

// One per cent of sound files is flagged: 4 standard errors of 2000 tries about it.
TEST_CASE("sound readings are flagged once in a hundred files") {
  Eigen::MatrixXd A(6, 2);
  A << 3, 0, 0, 4, 2, 1, 1, 5, 0, 3, 3, 3;
  std::uint64_t state = 12345;
  const auto uniform = [&] {
    state = state * 6364136223846793005ULL + 1442695040888963407ULL;
    return (static_cast<double>(state >> 11) + 0.5) / 9007199254740992.0;
  };
  const auto normal = [&] {
    return std::sqrt(-2.0 * std::log(uniform())) * std::cos(6.283185307179586 * uniform());
  };
  int flagged = 0;
  constexpr int tries = 2000;
  for (int i = 0; i < tries; ++i) {
    const Eigen::Vector2d truth(normal(), normal());
    Eigen::VectorXd y = A * truth;
    for (Eigen::Index k = 0; k < y.size(); ++k) y[k] += normal();
    const auto findings = findings_of(solve(linear(A, y), Eigen::VectorXd::Zero(2)));
    if (!findings.unexplained.empty() || !findings.contradictions.empty()) ++flagged;
  }
  CHECK(flagged > 2);
  CHECK(flagged < 38);
}
