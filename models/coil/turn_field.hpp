#pragma once

namespace driftglow::coil {

// Flux density per ampere in a meridian plane [T/A].
struct MeridianField {
  double radial, axial;
};

// The same with the radial part over the radius: smooth and even in the radius, without 0/0 on the axis.
struct MeridianFieldOverRadius {
  double radial_over_rho;  // T/(A m)
  double axial;            // T/A
};

// Flux density per ampere of one circular turn of thin wire, in the turn's own frame [T/A]:
//   B_rho  = 3/4 mu0 a^2 rho zeta F / (D^2 beta^3)
//   B_zeta = mu0 a / (pi D^2 beta) [a E - (3 pi/16) rho m F]                          (m < 1/2)
//          = mu0 / (2 pi D^2 beta) [((a - rho)(a + rho) - zeta^2) E + D^2 K]          (else)
//   D^2 = (a - rho)^2 + zeta^2,  beta^2 = (a + rho)^2 + zeta^2,  m = 4 a rho / beta^2,  k' = D/beta,
//   F = 2F1(1/2, 3/2; 3; m) = 32/(3 pi) [(1 - m/2) E - (1 - m) K] / m^2,
// the classical form (Smythe [smythe1968]) rearranged so that nothing cancels. F is taken one Landen step
// down,
//   F = 8 / (3 pi (1 + k')) int (2 cos^2 t + k1'^2 sin^2 t) / sqrt(cos^2 t + k1'^2 sin^2 t) dt,  k1' = 2
//   sqrt(k')/(1 + k'),
// a sum of positive terms for every m (our rearrangement; tested against 50 digits).
// radius a > 0 [m]; rho >= 0 distance from the axis [m]; zeta height above the turn's plane [m]; current
// right-handed about +zeta. Error <= 1e-13 of |B| from 1e-6 a off the wire to 1e6 a away; infinite on the
// wire.
MeridianField turn_field(double radius, double rho, double zeta);
MeridianFieldOverRadius turn_field_over_radius(double radius, double rho, double zeta);

// The same for a caller who knows the distance inward of the wire, radius - rho [m], to more digits than rho
// can carry: near the wire of a turn that lies askew in the vessel.
MeridianFieldOverRadius turn_field_over_radius(double radius, double rho, double zeta, double inward);

}  // namespace driftglow::coil
