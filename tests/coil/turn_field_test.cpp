#include "models/coil/turn_field.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "models/constants.hpp"
#include "tests/coil/wide_turn.hpp"
#include "tests/outside.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;

// Tolerance: the 1e-13 of |B| that model.md section 1 asks for.
TEST_CASE("field of a turn agrees with the classical form in 50 digits") {
  const Outside outside("Smythe's classical form in 50 digits");
  std::mt19937_64 engine(7);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const double a = 0.12;
  double worst = 0.0;
  for (int i = 0; i < 3000; ++i) {
    double rho, zeta;
    const double angle = 2.0 * constant::pi * uniform(engine);
    if (i % 3 == 0) {  // around the wire, 1e-6 a to a away
      const double distance = a * std::pow(10.0, -6.0 * uniform(engine));
      rho = std::fabs(a + distance * std::cos(angle));
      zeta = distance * std::sin(angle);
    } else if (i % 3 == 1) {  // near the axis, 1e-9 a to a off it
      rho = a * std::pow(10.0, -9.0 * uniform(engine));
      zeta = 3.0 * a * (2.0 * uniform(engine) - 1.0);
    } else {  // far away, to 1e5 a
      const double distance = a * std::pow(10.0, 5.0 * uniform(engine));
      rho = std::fabs(distance * std::cos(angle)) + 1e-9;
      zeta = distance * std::sin(angle);
    }
    const auto got = turn_field(a, rho, zeta);
    const auto want = smythe(a, rho, zeta);
    const Wide size = sqrt(want.radial * want.radial + want.axial * want.axial);
    const Wide er = got.radial - want.radial, ez = got.axial - want.axial;
    worst = std::max(worst, static_cast<double>(sqrt(er * er + ez * ez) / size));
  }
  MESSAGE("largest error of |B|: ", worst);
  outside.below("field of a coaxial turn, error of |B|", worst, 1e-13);
}

// Biot-Savart on the axis: mu0 a^2 / (2 (a^2 + z^2)^(3/2)); close to it B_r/r = -(dB_z/dz)/2. Rounding.
TEST_CASE("on the axis") {
  const Outside outside("Biot-Savart on the axis");
  for (const double z : {-0.3, 0.0, 0.05, 1.0, 100.0}) {
    const double a = 0.1, s2 = a * a + z * z;
    const auto field = turn_field_over_radius(a, 0.0, z);
    outside.matches("axial field on a turn's axis [T/A]", field.axial,
                    constant::mu_0 * a * a / (2.0 * s2 * std::sqrt(s2)), 1e-14);
    // Zero in the loop's own plane, so no relative tolerance can be asked for there.
    const double slope = 0.75 * constant::mu_0 * a * a * z / (s2 * s2 * std::sqrt(s2));
    outside.near("radial slope on a turn's axis [T/A m]", field.radial_over_rho, slope,
                 1e-14 * std::fabs(slope));
    CHECK(turn_field(a, 0.0, z).radial == 0.0);
  }
}
