#pragma once

#include <span>

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// Vector potential over the distance from the axis, per ampere [T/A], of one circular turn of thin wire in
// its own frame (Maxwell 1873 [maxwell1873], second form):
//   A_phi/rho = (8 mu0/pi) a^2/(beta^3 (1 + k')^3) (K1 - E1)/k1^2,
//   k1 = (1 - k')/(1 + k'),  k' = D/beta,  D^2 = (a - rho)^2 + zeta^2,  beta^2 = (a + rho)^2 + zeta^2,
// with (K1 - E1)/k1^2 as one integral, so that no digit is lost near the wire, on the axis or far away.
// radius a > 0, rho >= 0, zeta [m]; inward: a - rho [m]; infinite on the wire.
double vector_potential_over_radius(double radius, double rho, double zeta, double inward);

// Mutual inductance [H] of two coaxial circular filaments, 2 pi b^2 A_phi/b: radii a, b > 0 and distance of
// their planes [m]; infinite for a loop with itself.
double mutual_inductance(double radius_a, double radius_b, double distance);

// The same for two lists of turns, weights (with their senses) included.
double mutual_inductance(std::span<const Turn> first, std::span<const Turn> second);

// Self-inductance [H] of a circular loop of round wire, mu0 a (ln(8a/w) - 2 + Y); radius a, wire radius w
// [m], Y of internal_inductance_term(). Neglected: terms of order (w/a)^2 ln(8a/w), 5e-4 at w/a = 1/100 and
// below 1e-4 from 1/250.
double loop_inductance(double radius, double wire_radius, double internal_term);

}  // namespace driftglow::coil
