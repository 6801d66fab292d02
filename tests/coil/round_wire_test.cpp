#include "models/coil/round_wire.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>

#include "models/constants.hpp"
#include "tests/outside.hpp"
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
  const Outside outside("Rosa & Grover 1912, NBS Sci. Paper 169, table XXII [memory]");
  const double table[][2] = {{1.0, 1.00519}, {2.0, 1.07816}, {3.0, 1.31809}, {5.0, 2.04272}, {10.0, 3.79857}};
  for (const auto& row : table)
    outside.near("R/R0 of a round wire by skin effect",
                 internal_impedance_ratio(row[0] / std::sqrt(2.0)).real(), row[1], 1.5e-5);
}

TEST_CASE("Bessel ratios against quadrature") {
  const Outside outside("Bessel functions by their integral, trapezoidal rule");
  for (const double ratio : {0.01, 0.3, 1.0, 2.6, 10.0, 100.0}) {
    const Complex x(ratio, ratio);
    const Complex i0 = bessel_by_quadrature(0, x), i1 = bessel_by_quadrature(1, x),
                  i2 = bessel_by_quadrature(2, x);
    // The quadrature's own rounding is 1e-16 of I0, divided by the small results at small x.
    const double tolerance = 1e-12 + 1e-15 / (ratio * ratio);
    const Complex impedance = 0.5 * x * i0 / i1;
    outside.matches("internal resistance ratio of a round wire", internal_impedance_ratio(ratio).real(),
                    impedance.real(), tolerance);
    outside.near("internal impedance ratio of a round wire, error", internal_impedance_ratio(ratio),
                 impedance, tolerance * std::abs(impedance));
    outside.matches("transverse loss factor of a round wire", transverse_loss_factor(ratio), (i2 / i0).imag(),
                    tolerance);
  }
}

TEST_CASE("multipole responses against quadrature") {
  const Outside outside("Bessel functions by their integral, trapezoidal rule");
  for (const double ratio : {0.3, 2.6, 10.0}) {
    const Complex x(ratio, ratio);
    const auto response = multipole_response(ratio, 6);
    REQUIRE(response.size() == 6);
    CHECK(response[0].imag() == relative(transverse_loss_factor(ratio), 1e-14));
    for (int n = 1; n <= 6; ++n) {
      const Complex lower = bessel_by_quadrature(n - 1, x), upper = bessel_by_quadrature(n + 1, x);
      // Rounding of the quadrature, 1e-16, over its results.
      outside.near("multipole responses of a round wire, error", response[n - 1], upper / lower,
                   1e-15 / std::abs(lower) + 1e-12);
    }
  }
  Outside("textbook series")
      .matches("multipole response of a thin wire", multipole_response(1e-6, 3)[2].imag(), 1e-12 / 24.0,
               1e-12);
  Outside("textbook series")
      .matches("multipole response of a thin wire", multipole_response(2e-5, 3)[2].imag(), 4e-10 / 24.0,
               1e-7);
}

// Limits: thin wire (textbook series), thick wire (current in one skin depth: R ratio w/(2 delta) + 1/4, Y =
// delta/(2w)); next terms of order delta/w.
TEST_CASE("limits of thin and thick wire") {
  const Outside outside("textbook series for thin and thick wire");
  CHECK(internal_inductance_term(1e-7) == 0.25);
  outside.matches("internal inductance term of a thin wire", internal_inductance_term(2e-5), 0.25, 1e-9);
  outside.matches("skin-effect ratio of a thin wire", internal_impedance_ratio(0.1).real(), 1.0 + 1e-4 / 48.0,
                  1e-8);
  outside.matches("transverse loss factor of a thin wire", transverse_loss_factor(0.01), 0.25e-4, 1e-7);
  outside.matches("skin-effect ratio of a thick wire", internal_impedance_ratio(1000.0).real(), 500.25, 1e-6);
  outside.matches("internal inductance term of a thick wire", internal_inductance_term(1000.0), 0.5e-3, 1e-6);
  outside.matches("transverse loss factor of a thick wire", transverse_loss_factor(1000.0), 1e-3, 2e-3);
}

// 66 um at 1 MHz and 20 degC is the value of the trade for copper (common practice, no source).
TEST_CASE("copper") {
  const Outside outside("common practice, no source");
  outside.matches("skin depth of copper at 1 MHz and 20 degC [m]",
                  skin_depth(copper_resistivity(293.15), 1e6), 66.1e-6, 1e-3);
  Outside("IEC 60028")
      .matches("copper resistivity at 120 degC over 20 degC",
               copper_resistivity(393.15) / copper_resistivity(293.15), 1.393, 1e-12);
}
