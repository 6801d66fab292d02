#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "sim/flight/instruction_set.hpp"
#include "sim/tune/posterior.hpp"
#include "sim/tune/readings.hpp"

// What readings say about a scenario's uncertain values.
namespace driftglow::tune {

// Standard deviations that a normal distribution's 95 % interval reaches to either side.
inline constexpr double normal_95 = 1.959963984540054;
// An unknown whose standard deviation stays above this part of the prior's is not constrained.
inline constexpr double unconstrained_from = 0.9;
// Correlations from here on are named.
inline constexpr double named_correlation = 0.5;

// One scenario value, in the scenario's unit.
struct TunedUnknown {
  std::string key, unit;
  double before, prior_deviation;
  double after, deviation;
  bool constrained() const { return deviation < unconstrained_from * prior_deviation; }
};

// One reading and what the model says of it before and after, SI.
struct TunedReading {
  std::string name;
  Quantity quantity;
  double value, uncertainty;
  double scatter;  // standard deviation by the tags' tolerances
  double noise;    // standard error of the simulation
  double before, after;
  // (after - value) over the root of all three squares.
  double deviations() const;
};

// A design's duty with one fit, at the tuned values.
struct TunedDuty {
  std::string tag, fit;
  double mean, standard_error;               // 1, over replicates
  double parameter_before, parameter_after;  // 1, standard deviation by prior and posterior
};

// A reading that could be made next.
struct NextReading {
  std::string what;  // "supply at which a held tag first lights (plankton, yellow-green)"
  Quantity quantity;
  double uncertainty;     // SI, standard, taken as typical
  double duty_deviation;  // 1, root of the summed variances of all duties after it
};

struct Tuned {
  std::vector<TunedUnknown> unknowns;
  Eigen::MatrixXd covariance;  // of the unknowns in their units
  std::vector<TunedReading> readings;
  Findings findings;
  std::vector<TunedDuty> duties;  // in the order of the designs and their fits
  double duty_deviation;          // 1, as NextReading's, with the readings that there are
  std::vector<NextReading> next;  // the best first
  Posterior::Ended ended;
  int evaluations, flight_sets;

  Eigen::MatrixXd correlations() const;
};

enum class Flights { made, left_out };

struct TuneSettings {
  int threads;
  flight::InstructionSet instructions;
  // Without them nothing is said of the duty, and no reading may need one.
  Flights flights = Flights::made;
};

// The deterministic part is fitted as it is; what takes flights by a straight model of it, flown by the same
// random numbers at the fitted values and a good way to either side of them, and renewed until the fit stays
// where it is. A slope that its flights do not tell from nothing (two standard errors) is taken as nothing.
// Nothing when stopped. `say`: sentences about what is being done. Throws InputError.
std::optional<Tuned> tune(const Readings& readings, const TuneSettings& settings, const std::stop_token& stop,
                          const std::function<void(const std::string&)>& say);

}  // namespace driftglow::tune
