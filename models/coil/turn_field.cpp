#include "models/coil/turn_field.hpp"

#include <cmath>

#include "models/coil/elliptic.hpp"
#include "models/constants.hpp"

namespace driftglow::coil {

using constant::mu_0;
using constant::pi;

MeridianFieldOverRadius turn_field_over_radius(double radius, double rho, double zeta, double inward) {
  const double sum = radius + rho;
  const double D2 = inward * inward + zeta * zeta;
  const double beta2 = sum * sum + zeta * zeta;
  const double beta = std::sqrt(beta2);
  const double m = 4.0 * radius * rho / beta2;
  const double k = std::sqrt(D2) / beta;  // complementary modulus
  const double landen2 = 4.0 * k / ((1.0 + k) * (1.0 + k));
  const double F = 8.0 / (3.0 * pi * (1.0 + k)) * complete_elliptic(std::sqrt(landen2), 2.0, landen2);
  const double E = complete_elliptic(k, 1.0, k * k);

  const double scale = mu_0 / (D2 * beta);
  const double radial = 0.75 * scale * radius * radius * zeta * F / beta2;
  if (m < 0.5) return {radial, scale * radius / pi * (radius * E - 3.0 * pi / 16.0 * rho * m * F)};
  const double K = complete_elliptic(k, 1.0, 1.0);
  return {radial, scale / (2.0 * pi) * ((inward * sum - zeta * zeta) * E + D2 * K)};
}

MeridianFieldOverRadius turn_field_over_radius(double radius, double rho, double zeta) {
  return turn_field_over_radius(radius, rho, zeta, radius - rho);
}

MeridianField turn_field(double radius, double rho, double zeta) {
  const auto field = turn_field_over_radius(radius, rho, zeta);
  return {rho * field.radial_over_rho, field.axial};
}

}  // namespace driftglow::coil
