#pragma once

#include "models/receiver/steady_state.hpp"

namespace driftglow::receiver {

// The circuit of TankDesign integrated from rest with SUNDIALS CVODE (BDF, relative tolerance 1e-9) until the
// start-up has died away to e^-16, then one period more for the averages. Independent of the solver under
// test except for the reverse branch of the LED; the forward one is solved with Boost.Math's Lambert W.
// `omega` [rad/s], `emf_peak` [V].
OperatingPoint integrate_in_time(const TankDesign& design, double omega, double emf_peak);

// Largest relative difference of two operating points: currents below a nanoampere (mean) or ten (peak),
// which give no light, count against these; powers against the apparent one.
double largest_difference(const OperatingPoint& got, const OperatingPoint& reference);

}  // namespace driftglow::receiver
