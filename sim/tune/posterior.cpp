#include "sim/tune/posterior.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Dense>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <unsupported/Eigen/NonLinearOptimization>

#include "models/error.hpp"

namespace driftglow::tune {
namespace {

// Of a place that makes no sense: so bad that the method turns back.
constexpr double refused = 1e6;

Eigen::VectorXd within(const Problem& problem, const Eigen::VectorXd& at) {
  return at.cwiseMax(problem.least).cwiseMin(problem.most);
}

// Stacks readings and priors for Eigen's solver.
struct Stacked {
  using Scalar = double;
  using InputType = Eigen::VectorXd;
  using ValueType = Eigen::VectorXd;
  using JacobianType = Eigen::MatrixXd;
  enum { InputsAtCompileTime = Eigen::Dynamic, ValuesAtCompileTime = Eigen::Dynamic };

  const Problem& problem;
  Eigen::Index readings;

  Eigen::Index inputs() const { return problem.unknowns; }
  Eigen::Index values() const { return readings + problem.unknowns; }

  int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& value) const {
    const auto at = within(problem, x);
    const auto residuals = problem.residuals(at);
    if (residuals) {
      value << *residuals, x;
    } else {
      value.setConstant(refused);
    }
    return 0;
  }

  int df(const Eigen::VectorXd& x, Eigen::MatrixXd& slopes) const {
    const auto at = within(problem, x);
    const auto residuals = problem.residuals(at);
    slopes.resize(values(), inputs());
    if (!residuals) return -1;
    slopes << jacobian(problem, at, *residuals), Eigen::MatrixXd::Identity(inputs(), inputs());
    return 0;
  }
};

}  // namespace

Eigen::MatrixXd jacobian(const Problem& problem, const Eigen::VectorXd& at,
                         const Eigen::VectorXd& residuals) {
  Eigen::MatrixXd slopes(residuals.size(), problem.unknowns);
  for (Eigen::Index k = 0; k < problem.unknowns; ++k) {
    Eigen::VectorXd high = at, low = at;
    high[k] = std::min(at[k] + problem.step, problem.most[k]);
    low[k] = std::max(at[k] - problem.step, problem.least[k]);
    auto above = high[k] > at[k] ? problem.residuals(high) : std::nullopt;
    auto below = low[k] < at[k] ? problem.residuals(low) : std::nullopt;
    if (!above && !below)
      throw InputError(
          "driftglow: tune: an unknown can be made neither a little larger nor a little smaller; expected a "
          "scenario that still holds within the tolerances");
    if (!above) {
      above = residuals;
      high[k] = at[k];
    }
    if (!below) {
      below = residuals;
      low[k] = at[k];
    }
    slopes.col(k) = (*above - *below) / (high[k] - low[k]);
  }
  return slopes;
}

Posterior solve(const Problem& problem, const Eigen::VectorXd& start) {
  const auto first = problem.residuals(start);
  if (!first)
    throw InputError(
        "driftglow: tune: the scenario makes no working exhibit, so there is nothing to start from");
  int evaluations = 0;
  Problem counted = problem;
  counted.residuals = [&](const Eigen::VectorXd& x) {
    ++evaluations;
    return problem.residuals(x);
  };
  Stacked stacked{counted, first->size()};
  Eigen::LevenbergMarquardt<Stacked> method(stacked);
  method.parameters.ftol = 1e-7;
  method.parameters.xtol = 1e-5;
  method.parameters.maxfev = 60;
  // Unknowns are scaled already; the first step is within a few prior deviations.
  method.parameters.factor = 10.0;
  Eigen::VectorXd x = start;
  const auto status = method.minimize(x);
  using Status = Eigen::LevenbergMarquardtSpace::Status;
  const bool gave_up = status == Status::TooManyFunctionEvaluation || status == Status::UserAsked ||
                       status == Status::ImproperInputParameters;
  Posterior posterior{
      within(problem, x), {}, {}, {}, 0, gave_up ? Posterior::Ended::gave_up : Posterior::Ended::settled};
  posterior.residuals = *counted.residuals(posterior.mean);
  posterior.jacobian = jacobian(counted, posterior.mean, posterior.residuals);
  const Eigen::Index n = problem.unknowns;
  const Eigen::MatrixXd information =
      posterior.jacobian.transpose() * posterior.jacobian + Eigen::MatrixXd::Identity(n, n);
  posterior.covariance = information.ldlt().solve(Eigen::MatrixXd::Identity(n, n));
  posterior.evaluations = evaluations;
  return posterior;
}

Findings findings_of(const Posterior& posterior) {
  const Eigen::Index readings = posterior.residuals.size(), n = posterior.mean.size(), all = readings + n;
  Eigen::MatrixXd system(all, n);
  system << posterior.jacobian, Eigen::MatrixXd::Identity(n, n);
  Eigen::VectorXd e(all);
  e << posterior.residuals, posterior.mean;
  // 1 - H, of which each datum's residual has the variance on the diagonal.
  const Eigen::MatrixXd left =
      Eigen::MatrixXd::Identity(all, all) - system * posterior.covariance * system.transpose();
  using boost::math::chi_squared;
  const double level = 0.01 / static_cast<double>(all);
  Findings findings{};
  findings.limit = std::sqrt(boost::math::quantile(boost::math::complement(chi_squared(1.0), level)));
  // A datum that fits itself alone leaves nothing to judge.
  constexpr double least_left = 1e-6;
  const auto judged = [&](Eigen::Index i) { return left(i, i) > least_left; };
  for (Eigen::Index i = 0; i < all; ++i) {
    const bool is_prior = i >= readings;
    findings.data.push_back({is_prior, static_cast<std::size_t>(is_prior ? i - readings : i),
                             judged(i) ? e[i] / std::sqrt(left(i, i)) : 0.0});
  }
  const auto beyond = [&](Eigen::Index i) { return std::fabs(findings.data[i].residual) > findings.limit; };
  std::vector<bool> contradicted(static_cast<std::size_t>(all), false);
  for (Eigen::Index i = 0; i < all; ++i) {
    for (Eigen::Index j = i + 1; j < all; ++j) {
      if (!beyond(i) || !beyond(j)) continue;
      const double a = left(i, i), b = left(j, j), c = left(i, j), determinant = a * b - c * c;
      // What is left of one where the other is left out: e_j - (c/a) e_i, of variance b - c^2/a.
      const auto alone = [&](double own, double other, double e_own, double e_other) {
        const double variance = own - c * c / other;
        return variance <= 0.0 ? 0.0 : std::fabs(e_own - c / other * e_other) / std::sqrt(variance);
      };
      // Two that say the same and nothing else does: either fits exactly without the other.
      const bool mutual = determinant <= least_left * a * b || (alone(a, b, e[i], e[j]) < findings.limit &&
                                                                alone(b, a, e[j], e[i]) < findings.limit);
      if (!mutual) continue;
      findings.contradictions.push_back({static_cast<std::size_t>(i), static_cast<std::size_t>(j)});
      contradicted[i] = contradicted[j] = true;
    }
  }
  for (Eigen::Index i = 0; i < all; ++i)
    if (beyond(i) && !contradicted[i]) findings.unexplained.push_back(static_cast<std::size_t>(i));
  findings.chi_squared = e.squaredNorm();
  findings.degrees_of_freedom = static_cast<int>(readings);
  findings.probability = boost::math::cdf(
      boost::math::complement(chi_squared(static_cast<double>(readings)), findings.chi_squared));
  return findings;
}

}  // namespace driftglow::tune
