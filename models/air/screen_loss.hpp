#pragma once

namespace driftglow::air {

// A square mesh of round wires.
struct WireMesh {
  double wire;     // m, diameter > 0
  double opening;  // m, clear width between two wires > 0
};

double open_share(const WireMesh& mesh);  // 1, (opening/(opening + wire))^2

// Pressure loss K [1] of a mesh over the dynamic pressure of the speed U [m/s] before it, kinematic viscosity
// [m2/s]. beta open share:
//   K = 6.5 (1 - beta)/beta^(5/3) Re^(-1/3), Re = U wire/nu   (Wieghardt 1953 [wieghardt1953, memory])
// for Re/beta 60 to 600; below that it is used on, above it Idelchik's 1.3 (1 - beta) + (1/beta - 1)^2
// [idelchik2007, memory], which does not depend on Re, holds from where it is the larger one. The two agree
// within a third where both hold. Throws InputError for sizes out of range.
double screen_loss(const WireMesh& mesh, double speed, double kinematic_viscosity);

}  // namespace driftglow::air
