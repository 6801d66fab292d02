#include "models/coil/round_wire.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>

#include "models/constants.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;

namespace {
using Complex = std::complex<double>;

// Second route: I_n(x) = (1/pi) int_0^pi exp(x cos t) cos(n t) dt, by the trapezoidal rule, which converges
// geometrically for a periodic integrand; scaled by exp(-x) against overflow.
Complex bessel_by_quadrature(int n, Complex x) {
  const int steps = 4000;
  Complex sum = 0.0;
  for (int i = 0; i < steps; ++i) {
    const double t = 2.0 * constant::pi * (i + 0.5) / steps;
    sum += std::exp(x * (std::cos(t) - 1.0)) * std::cos(n * t);
  }
  return sum / static_cast<double>(steps);
}
}  // namespace

// Rosa & Grover, NBS Scientific Paper 169 (1912), table XXII: R/R0 against x = w sqrt(2)/delta [memory]; half
// a unit of the last digit.
TEST_CASE("skin effect against the printed table") {
  const double table[][2] = {{1.0, 1.00519}, {2.0, 1.07816}, {3.0, 1.31809}, {5.0, 2.04272}, {10.0, 3.79857}};
  for (const auto& row : table)
    CHECK(std::fabs(internal_impedance_ratio(row[0] / std::sqrt(2.0)).real() - row[1]) < 1.5e-5);
}

TEST_CASE("Bessel ratios against quadrature") {
  for (const double ratio : {0.01, 0.3, 1.0, 2.6, 10.0, 100.0}) {
    const Complex x(ratio, ratio);
    const Complex i0 = bessel_by_quadrature(0, x), i1 = bessel_by_quadrature(1, x),
                  i2 = bessel_by_quadrature(2, x);
    // The quadrature's own rounding is 1e-16 of I0, divided by the small results at small x.
    const double tolerance = 1e-12 + 1e-15 / (ratio * ratio);
    const Complex impedance = 0.5 * x * i0 / i1;
    CHECK(internal_impedance_ratio(ratio).real() == relative(impedance.real(), tolerance));
    CHECK(std::abs(internal_impedance_ratio(ratio) - impedance) < tolerance * std::abs(impedance));
    CHECK(transverse_loss_factor(ratio) == relative((i2 / i0).imag(), tolerance));
  }
}

TEST_CASE("multipole responses against quadrature") {
  for (const double ratio : {0.3, 2.6, 10.0}) {
    const Complex x(ratio, ratio);
    const auto response = multipole_response(ratio, 6);
    REQUIRE(response.size() == 6);
    CHECK(response[0].imag() == relative(transverse_loss_factor(ratio), 1e-14));
    for (int n = 1; n <= 6; ++n) {
      const Complex lower = bessel_by_quadrature(n - 1, x), upper = bessel_by_quadrature(n + 1, x);
      // Rounding of the quadrature, 1e-16, over its results.
      CHECK(std::abs(response[n - 1] - upper / lower) < 1e-15 / std::abs(lower) + 1e-12);
    }
  }
  CHECK(multipole_response(1e-6, 3)[2].imag() == relative(1e-12 / 24.0, 1e-12));
  CHECK(multipole_response(2e-5, 3)[2].imag() == relative(4e-10 / 24.0, 1e-7));
}

// Limits: thin wire (textbook series), thick wire (current in one skin depth: R ratio w/(2 delta) + 1/4, Y =
// delta/(2w)); next terms of order delta/w.
TEST_CASE("limits of thin and thick wire") {
  CHECK(internal_inductance_term(1e-7) == 0.25);
  CHECK(internal_inductance_term(2e-5) == relative(0.25, 1e-9));
  CHECK(internal_impedance_ratio(0.1).real() == relative(1.0 + 1e-4 / 48.0, 1e-8));
  CHECK(transverse_loss_factor(0.01) == relative(0.25e-4, 1e-7));
  CHECK(internal_impedance_ratio(1000.0).real() == relative(500.25, 1e-6));
  CHECK(internal_inductance_term(1000.0) == relative(0.5e-3, 1e-6));
  CHECK(transverse_loss_factor(1000.0) == relative(1e-3, 2e-3));
}

// 66 um at 1 MHz and 20 degC is the value of the trade for copper (common practice, no source).
TEST_CASE("copper") {
  CHECK(skin_depth(copper_resistivity(293.15), 1e6) == relative(66.1e-6, 1e-3));
  CHECK(copper_resistivity(393.15) / copper_resistivity(293.15) == relative(1.393, 1e-12));
}
