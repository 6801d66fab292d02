#pragma once

#include <vector>

#include "models/receiver/steady_state.hpp"

namespace driftglow::receiver {

// What a built tag does as a function of the amplitude of its EMF: steady states at points that rise from
// zero to `emf_max`, joined by cubics through their exact slopes; the currents as logarithms over the
// logarithm of the EMF (they span decades around the threshold), voltages and powers as they are.
class GlowCurve {
 public:
  // Steady states at the curve's points, EMF rising; the first is at zero.
  const std::vector<SteadyState>& points() const { return points_; }
  double emf_max() const { return points_.back().value.emf_peak; }  // V peak
  int nodes() const { return nodes_; }                              // time steps per period

  // Operating point at an EMF >= 0 [V peak], within 0.2 % of the solved one where the mean current exceeds
  // 1e-7 A. Above emf_max the last slopes are continued.
  OperatingPoint at(double emf_peak) const;
  double mean_current(double emf_peak) const;               // A, that of at()
  double mean_current_antiparallel(double emf_peak) const;  // A, likewise; zero without a second LED

  // EMF [V peak] at which the mean current [A, > 0] is reached, solved there (relative error <= 1e-4);
  // infinity when it is not reached up to emf_max. Costs two or three steady states.
  double threshold_emf(double mean_current) const;

  // EMF at which first x mean current of the first LED + second x that of the antiparallel one reaches a
  // wanted sum > 0, e.g. an intensity with both in cd/A; weights >= 0, not both zero. As above.
  struct Weights {
    double first, second;
  };
  double threshold_emf(double wanted, const Weights& weights) const;

 private:
  friend GlowCurve solve_glow_curve(const TankDesign& design, double omega, double emf_max);
  GlowCurve(const TankDesign& design, double omega) : design_(design), omega_(omega) {}

  TankDesign design_;
  double omega_;
  int nodes_ = 0;
  std::vector<SteadyState> points_;
};

// Follows the steady state upwards in EMF to emf_max > 0 [V peak] at omega [rad/s], about 30 points, close
// where a mean current rises steeply. The number of time steps per period is raised until doubling it
// changes the mean currents by less than 1e-4 half-way up in the current's logarithm and at the top. Throws
// InputError for an invalid design, LogicError for a non-positive emf_max.
GlowCurve solve_glow_curve(const TankDesign& design, double omega, double emf_max);

}  // namespace driftglow::receiver
