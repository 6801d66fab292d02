#pragma once

#include <Eigen/Core>
#include <vector>

#include "sim/tune/tune.hpp"

// Which reading would narrow the duty most.
namespace driftglow::tune {

// What could be read of this scenario, and how well it commonly is.
struct Candidate {
  std::string what;
  Subject subject;
  double relative, absolute;  // 1, SI: standard uncertainty that is common; the other is 0
  double uncertainty;         // SI
  double typical(double value) const { return absolute > 0.0 ? absolute : relative * std::fabs(value); }
};

// Those that need no flight, and one of a flight; their uncertainty still open.
std::vector<Candidate> bench_candidates(const scenario::Scenario& scenario);
Candidate flown_candidate(const scenario::Scenario& scenario, const Subject& subject);

// By the linear model: a reading of slopes j and uncertainty s takes (g' C j)^2/(s^2 + j' C j) off a duty's
// variance g' C g. slopes: SI per prior deviation, one a candidate; duty: one row a duty. The best first,
// those that take a thousandth and more off the summed variance.
std::vector<NextReading> best_next(const std::vector<Candidate>& candidates,
                                   const std::vector<Eigen::VectorXd>& slopes,
                                   const Eigen::MatrixXd& covariance, const Eigen::MatrixXd& duty);

}  // namespace driftglow::tune
