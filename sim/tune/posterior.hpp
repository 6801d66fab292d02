#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <vector>

// Maximum a posteriori of unknowns with normal priors from readings with normal errors, by least squares, and
// what can be said about it from the linear model there. Unknowns are counted in prior standard deviations
// from the prior mean: the prior of each is N(0, 1).
namespace driftglow::tune {

struct Problem {
  Eigen::Index unknowns;
  // (prediction - reading)/uncertainty of every reading; nothing where the unknowns make no sense together.
  std::function<std::optional<Eigen::VectorXd>(const Eigen::VectorXd&)> residuals;
  // Limits of each unknown, outside of which it is not tried.
  Eigen::VectorXd least, most;
  double step = 0.2;  // of the central differences
};

// Slopes of the residuals, by central differences, one-sided at a limit. Throws InputError where neither side
// makes sense.
Eigen::MatrixXd jacobian(const Problem& problem, const Eigen::VectorXd& at, const Eigen::VectorXd& residuals);

struct Posterior {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;  // (J' J + 1)^-1
  Eigen::VectorXd residuals;   // at the mean
  Eigen::MatrixXd jacobian;    // likewise
  int evaluations;
  enum class Ended { settled, gave_up } ended;

  double chi_squared() const { return residuals.squaredNorm() + mean.squaredNorm(); }
};

// Levenberg and Marquardt's method (MINPACK's, in Eigen's unsupported modules) from `start`. Throws
// InputError where the start makes no sense.
Posterior solve(const Problem& problem, const Eigen::VectorXd& start);

// A reading, or a prior as if it were one more.
struct Datum {
  bool is_prior;
  std::size_t number;  // of the reading or the unknown
  double residual;     // 1, standardised: over its own standard deviation in this model
};

// Two data of which either can be explained without the other, but not both.
struct Contradiction {
  std::size_t first, second;  // in Findings::data
};

struct Findings {
  std::vector<Datum> data;               // readings, then priors
  double limit;                          // 1, of |residual|
  std::vector<std::size_t> unexplained;  // in data: beyond the limit and in no contradiction
  std::vector<Contradiction> contradictions;
  double chi_squared, probability;  // 1; that chance makes it at least so large
  int degrees_of_freedom;
};

// Residuals of the linear model at the posterior: e = (1 - H) y of the stacked and scaled system, H its
// projection. A datum is beyond the limit where e^2/(1 - h) exceeds the quantile of chi-squared with one
// degree of freedom at 1 % over the number of data (Bonferroni), so that a sound set is flagged once in a
// hundred. What one datum leaves of another when it is left out follows from the 2 x 2 block of (1 - H)
// (deletion diagnostics: Cook & Weisberg 1982 [cook1982]).
Findings findings_of(const Posterior& posterior);

}  // namespace driftglow::tune
