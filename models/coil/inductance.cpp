#include "models/coil/inductance.hpp"

#include <cmath>
#include <limits>

#include "models/coil/elliptic.hpp"
#include "models/constants.hpp"

namespace driftglow::coil {

using constant::mu_0;

double mutual_inductance(double radius_a, double radius_b, double distance) {
  const double difference = radius_a - radius_b, sum = radius_a + radius_b;
  const double beta2 = sum * sum + distance * distance;
  const double k = std::sqrt((difference * difference + distance * distance) / beta2);  // complementary
  if (k == 0.0) return std::numeric_limits<double>::infinity();
  const double product = radius_a * radius_b;
  const double k1 = 4.0 * product / beta2 / ((1.0 + k) * (1.0 + k));
  const double complementary = 2.0 * std::sqrt(k) / (1.0 + k);
  return 2.0 * mu_0 * std::sqrt(product * k1) * k1 * complete_elliptic(complementary, 0.0, 1.0);
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
