#include "models/coil/round_wire.hpp"

#include <cmath>

#include "models/constants.hpp"

namespace driftglow::coil {
namespace {

using Complex = std::complex<double>;

// r_n = I_n/I_(n-1), n = 1..count: r_n = 1/(2n/x + r_(n+1)), run down from far above |x|, where I_n is the
// minimal solution and the starting value is forgotten (Gautschi [gautschi1967]).
template <class Ratios>
void bessel_ratios(Complex x, int count, Ratios& ratios) {
  const Complex twice_inverse = 2.0 / x;
  Complex ratio = 0.0;
  for (int n = static_cast<int>(1.5 * std::abs(x)) + 38 + count; n >= 1; --n) {
    ratio = 1.0 / (static_cast<double>(n) * twice_inverse + ratio);
    if (n <= count) ratios[n - 1] = ratio;
  }
}

Complex argument(double relative_radius) {
  return {relative_radius, relative_radius};
}

// Below this the leading terms are exact to 1e-17, and 2/x might overflow.
constexpr double smallest_relative_radius = 1e-5;

}  // namespace

double copper_resistivity(double temperature) {
  const double above_20 = temperature - constant::zero_celsius - 20.0;
  return constant::copper_resistivity_20 * (1.0 + constant::copper_temperature_coefficient * above_20);
}

double skin_depth(double resistivity, double frequency) {
  return std::sqrt(resistivity / (constant::pi * frequency * constant::mu_0));
}

std::complex<double> internal_impedance_ratio(double relative_radius) {
  if (relative_radius < smallest_relative_radius) return {1.0, 0.25 * relative_radius * relative_radius};
  const Complex x = argument(relative_radius);
  Complex ratios[2];
  bessel_ratios(x, 2, ratios);
  return 1.0 + 0.5 * x * ratios[1];
}

double internal_inductance_term(double relative_radius) {
  if (relative_radius < smallest_relative_radius) return 0.25;
  return internal_impedance_ratio(relative_radius).imag() / (relative_radius * relative_radius);
}

double transverse_loss_factor(double relative_radius) {
  if (relative_radius < smallest_relative_radius) return 0.25 * relative_radius * relative_radius;
  Complex ratios[2];
  bessel_ratios(argument(relative_radius), 2, ratios);
  return (ratios[0] * ratios[1]).imag();
}

std::vector<Complex> multipole_response(double relative_radius, int order) {
  std::vector<Complex> ratios(order + 1);
  if (relative_radius < smallest_relative_radius) {
    for (int n = 1; n <= order; ++n)
      ratios[n - 1] = {0.0, relative_radius * relative_radius / (2.0 * n * (n + 1.0))};
  } else {
    bessel_ratios(argument(relative_radius), order + 1, ratios);
    for (int n = 0; n < order; ++n) ratios[n] *= ratios[n + 1];
  }
  ratios.pop_back();
  return ratios;
}

}  // namespace driftglow::coil
