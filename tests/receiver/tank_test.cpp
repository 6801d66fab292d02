#include "models/receiver/tank.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>

#include "models/error.hpp"
#include "tests/receiver/examples.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

// Worked numbers of model.md section 8: 39.22 uH, 3.13 ohm, 47 nF give 117.19 kHz and Q = 9.3 (two digits).
// The page does not say whether the LED's tens of picofarads are in it, which make up to 4e-4.
TEST_CASE("resonance and quality of the worked tag") {
  const TankDesign tank = example::worked(example::yellow_green());
  CHECK(resonance_frequency(tank) == relative(117.19e3, 4e-4));
  CHECK(quality_factor(tank, example::omega) == relative(9.3, 6e-3));
}

// Limits of a series circuit: far below resonance the whole EMF stands at the node, at resonance Q times the
// EMF at 90 degrees (exact for R << omega L: error 1/Q^2), and energy is conserved: P = R |I|^2/2 + G
// |V|^2/2.
TEST_CASE("linear response") {
  const TankDesign tank = example::many_turns(example::white());
  CHECK(std::abs(linear_response(tank, 1e-3 * example::omega).voltage) == relative(1.0, 2e-6));
  const double resonance = 2.0 * std::numbers::pi * resonance_frequency(tank);
  CHECK(std::abs(linear_response(tank, resonance).voltage) ==
        relative(quality_factor(tank, resonance), 1e-3));
  const auto at = linear_response(tank, example::omega);
  CHECK(0.5 * at.current.real() ==
        relative(0.5 * tank.resistance * std::norm(at.current) +
                     0.5 * tank.loss_conductance(example::omega) * std::norm(at.voltage),
                 1e-12));
}

TEST_CASE("values out of range are the user's errors") {
  const TankDesign good = example::middle(example::white());
  CHECK_NOTHROW(check(good));
  for (double TankDesign::*member :
       {&TankDesign::inductance, &TankDesign::resistance, &TankDesign::capacitance, &TankDesign::loss_tangent,
        &TankDesign::junction_capacitance}) {
    for (const double value : {-1.0, double(NAN), double(INFINITY)}) {
      TankDesign bad = good;
      bad.*member = value;
      CHECK_THROWS_AS(check(bad), InputError);
    }
  }
}
