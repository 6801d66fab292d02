#pragma once

#include <span>

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// Mutual inductance [H] of two coaxial circular filaments (Maxwell 1873 [maxwell1873], second form):
//   M = 2 mu0 sqrt(a b) k1^(3/2) (K1 - E1)/k1^2,  k1 = (1 - k')/(1 + k'),  k' = sqrt(((a - b)^2 + d^2)/((a +
//   b)^2 + d^2)),
// with (K1 - E1)/k1^2 as one integral and k1 = k^2/(1 + k')^2, so that no digit is lost for close or for far
// loops. Radii a, b > 0 and distance d of the planes [m]; infinite for a loop with itself.
double mutual_inductance(double radius_a, double radius_b, double distance);

// The same for two lists of turns, weights (with their senses) included.
double mutual_inductance(std::span<const Turn> first, std::span<const Turn> second);

// Self-inductance [H] of a circular loop of round wire, mu0 a (ln(8a/w) - 2 + Y); radius a, wire radius w
// [m], Y of internal_inductance_term(). Neglected: terms of order (w/a)^2 ln(8a/w), 5e-4 at w/a = 1/100 and
// below 1e-4 from 1/250.
double loop_inductance(double radius, double wire_radius, double internal_term);

}  // namespace driftglow::coil
