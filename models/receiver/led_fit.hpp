#pragma once

#include <span>
#include <utility>

#include "models/receiver/led_law.hpp"

namespace driftglow::receiver {

// Bounds of the fitted ideality factor: one for an ideal junction, above two in white and blue (InGaN) LEDs,
// whose many hetero-junctions add up (Shah et al. 2003 [shah2003]).
inline constexpr double ideality_lowest = 1.0;
inline constexpr double ideality_highest = 7.0;

struct LedFit {
  LedLaw law;
  double worst_residual;  // V, largest |law - point|
};

// Least squares in volts through data-sheet points (A, V) at a junction temperature [K], n_id within the
// bounds above, R_s >= 0, I_s > 0. For a given I_s the voltage is linear in n_id and R_s (variable
// projection, Golub & Pereyra 1973 [golub1973]); the rest is a search along ln I_s over all of its range, so
// no start value is needed. Throws InputError unless there are at least three points with positive, rising
// currents and positive, not falling voltages.
LedFit fit_led(std::span<const std::pair<double, double>> points, const ReverseData& reverse,
               double temperature);

// Whether some point lies within a factor ten of `current` [A]: if none does, the law there is an
// extrapolation that deserves a warning.
bool has_point_within_factor_ten(std::span<const std::pair<double, double>> points, double current);

}  // namespace driftglow::receiver
