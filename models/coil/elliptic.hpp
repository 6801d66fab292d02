#pragma once

#include <cmath>

#include "models/constants.hpp"

namespace driftglow::coil {

// Complete elliptic integral [1] of Bulirsch 1965 [bulirsch1965],
//   int_0^(pi/2) (a cos^2 t + b sin^2 t) / sqrt(cos^2 t + k'^2 sin^2 t) dt,
// by the arithmetic-geometric mean. k': complementary modulus, 0 < k' <= 1; it, and not the modulus, is the
// argument because 1 - k^2 has no digits left near a wire. With a, b >= 0 every step adds positive numbers,
// so no digit is lost. K: (1, 1); E: (1, k'^2); (K - E)/k^2: (0, 1).
inline double complete_elliptic(double complementary_modulus, double a, double b) {
  double k = complementary_modulus, mean = 1.0, c = a;
  a += b;
  for (;;) {
    b = 2.0 * (c * k + b);
    c = a;
    const double previous = mean;
    mean += k;
    a += b / mean;
    // The distance of the two means is squared by each step: 1e-8 now is 1e-16 in what was summed.
    if (std::fabs(previous - k) <= 1e-8 * previous) return 0.25 * constant::pi * a / mean;
    k = 2.0 * std::sqrt(k * previous);
  }
}

}  // namespace driftglow::coil
