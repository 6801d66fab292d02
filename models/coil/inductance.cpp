#include "models/coil/inductance.hpp"

#include <cmath>
#include <limits>

#include "models/coil/elliptic.hpp"
#include "models/constants.hpp"

namespace driftglow::coil {

using constant::mu_0;
using constant::pi;

double vector_potential_over_radius(double radius, double rho, double zeta, double inward) {
  const double sum = radius + rho;
  const double beta2 = sum * sum + zeta * zeta;
  const double beta = std::sqrt(beta2);
  const double k = std::sqrt(inward * inward + zeta * zeta) / beta;  // complementary
  if (k == 0.0) return std::numeric_limits<double>::infinity();
  const double above = 1.0 + k;
  return 8.0 * mu_0 / pi * radius * radius / (beta2 * beta * above * above * above) *
         complete_elliptic(2.0 * std::sqrt(k) / above, 0.0, 1.0);
}

double mutual_inductance(double radius_a, double radius_b, double distance) {
  return 2.0 * pi * radius_b * radius_b *
         vector_potential_over_radius(radius_a, radius_b, distance, radius_a - radius_b);
}

double mutual_inductance(std::span<const Turn> first, std::span<const Turn> second) {
  double sum = 0.0;
  for (const auto& a : first) {
    for (const auto& b : second)
      sum += a.weight * b.weight * mutual_inductance(a.radius, b.radius, a.height - b.height);
  }
  return sum;
}

double loop_inductance(double radius, double wire_radius, double internal_term) {
  return mu_0 * radius * (std::log(8.0 * radius / wire_radius) - 2.0 + internal_term);
}

}  // namespace driftglow::coil
