#pragma once

#include <span>

namespace driftglow::light {

// Time constant of the eye in the law of Blondel & Rey 1911 [blondel1911], s; at the threshold of seeing at
// night.
inline constexpr double blondel_rey_constant = 0.2;

// Effective intensity [cd] of a whole flash: integral of I dt [cd s] over the flash / (0.2 s + duration [s]).
// A lower bound: the law asks for the largest value over all parts of the flash, and a long flash with dim
// ends is more conspicuous than this says.
double effective_intensity(double integral, double duration);

// The law itself: the largest (integral of I dt from t1 to t2)/(0.2 s + t2 - t1) over all t1 < t2, for an
// intensity [cd] >= 0 held over each of `intensity.size()` steps of `step` [s] > 0. Exact for such a
// staircase; zero when empty.
double largest_effective_intensity(std::span<const double> intensity, double step);

}  // namespace driftglow::light
