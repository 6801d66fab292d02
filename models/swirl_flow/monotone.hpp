#pragma once

#include <vector>

namespace driftglow::swirl_flow {

// Slopes of the cubic Hermite interpolant that neither overshoots nor turns where the values do not: weighted
// harmonic means of the neighbouring chords (Fritsch & Butland 1984 [fritsch1984]), 0 at a local extremum. x
// rises, two values at least.
std::vector<double> monotone_slopes(const std::vector<double>& x, const std::vector<double>& y);

// That interpolant at x_new; the end values beyond the ends.
std::vector<double> monotone_resampled(const std::vector<double>& x, const std::vector<double>& y,
                                       const std::vector<double>& x_new);

}  // namespace driftglow::swirl_flow
