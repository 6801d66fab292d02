#include "models/light/flash.hpp"

namespace driftglow::light {

double effective_intensity(double integral, double duration) {
  return integral / (blondel_rey_constant + duration);
}

double largest_effective_intensity(std::span<const double> intensity, double step) {
  // Largest ratio by repeated largest difference (Dinkelbach 1967 [dinkelbach1967]): the run with the largest
  // integral of (I - best) gives a better ratio until none exceeds 0.2 s of `best`. Each round is one pass.
  double best = 0.0;
  for (;;) {
    double excess = 0.0, largest = 0.0, integral = 0.0, duration = 0.0, largest_integral = 0.0,
           largest_duration = 0.0;
    for (const double value : intensity) {
      if (excess <= 0.0) {
        excess = integral = duration = 0.0;
      }
      excess += (value - best) * step;
      integral += value * step;
      duration += step;
      if (excess > largest) {
        largest = excess;
        largest_integral = integral;
        largest_duration = duration;
      }
    }
    const double ratio = effective_intensity(largest_integral, largest_duration);
    if (!(ratio > best)) {
      return best;
    }
    best = ratio;
  }
}

}  // namespace driftglow::light
