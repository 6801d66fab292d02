#pragma once

#include "models/coil/coil_map.hpp"
#include "models/coil/conductor_path.hpp"

namespace driftglow::coil {

struct MutualInductance {
  double value;  // H
  double error;  // H, estimated bound of the quadrature's error
};

// Mutual inductance of two thin closed conductors anywhere: the circulation of the vector potential of one
// round the other. Round a turn by the periodic trapezoidal rule, doubled until two results agree within
// 1e-12 of the integral of |A.dl| (it converges geometrically, as exp(-points x distance/radius)); where
// 2048 points do not suffice, and along rods, by adaptive Gauss-Kronrod quadrature (Boost.Math), so that
// crossing wires a thousandth of a radius apart cost some thousand points. Senses and weights of turns
// included. Cost: turns x turns x 32 points or more. Touching conductors: the value of thin wires, with an
// error to match.
MutualInductance mutual_inductance(const ConductorPath& first, const ConductorPath& second);

// Inductance [H] of closed paths of straight rods with all current in their surface: of a path (with itself),
// or mutual of two that may share rods (same ends), which then lie on each other. Partial self-inductance of
// a rod,
//   (mu0 l/2 pi) (ln(2l/w) - 1),
// and Neumann's integral of every other pair. rod_radius w [m]. Neglected: terms of order w, the corners.
double rod_inductance(const RodPath& first, const RodPath& second, double rod_radius);

// Length [m] of the rods that two paths share, counted negative where their currents run against each other.
double shared_length(const RodPath& first, const RodPath& second);

// Whether two centre lines come closer than `distance` [m] > 0 (to a thousandth of it).
bool closer_than(const ConductorPath& first, const ConductorPath& second, double distance);

// Whether a centre line enters the cylinder about the vessel's axis (its surface not counted).
bool enters(const ConductorPath& path, Reach cylinder);

}  // namespace driftglow::coil
