#include "models/receiver/tank.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/receiver/examples.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

// Worked numbers of model.md section 8: 39.22 uH, 3.13 ohm, 47 nF give 117.19 kHz and Q = 9.3 (two digits).
// The page does not say whether the LED's tens of picofarads are in it, which make up to 4e-4.
TEST_CASE("resonance and quality of the worked tag") {
  const Outside outside("model.md section 8, an independent implementation");
  const TankDesign tank = example::worked(example::yellow_green());
  outside.matches("resonance of the worked tag [Hz]", resonance_frequency(tank), 117.19e3, 4e-4);
  outside.matches("Q of the worked tag", quality_factor(tank, example::omega), 9.3, 6e-3);
}

// Limits of a series circuit: far below resonance the whole EMF stands at the node, at resonance Q times the
// EMF at 90 degrees (exact for R << omega L: error 1/Q^2), and energy is conserved: P = R |I|^2/2 + G
// |V|^2/2.
TEST_CASE("linear response") {
  const Outside outside("series resonance (textbook)");
  const TankDesign tank = example::many_turns(example::white());
  outside.matches("tank voltage over EMF far below resonance",
                  std::abs(linear_response(tank, 1e-3 * example::omega).voltage), 1.0, 2e-6);
  const double resonance = 2.0 * std::numbers::pi * resonance_frequency(tank);
  outside.matches("tank voltage over EMF at resonance", std::abs(linear_response(tank, resonance).voltage),
                  quality_factor(tank, resonance), 1e-3);
  const auto at = linear_response(tank, example::omega);
  Outside("conservation of energy")
      .matches("power of the linear tank [W]", 0.5 * at.current.real(),
               0.5 * tank.resistance * std::norm(at.current) +
                   0.5 * tank.loss_conductance(example::omega) * std::norm(at.voltage),
               1e-12);
}

// Textbook: detuned by half the bandwidth the response falls by 3 dB (error of order 1/Q). Detuning by L and
// C adds half of each, the drive all of its own.
TEST_CASE("sharpness against tolerances") {
  const Outside outside("half-power bandwidth (textbook)");
  using Concern = SharpnessFacts::Concern;
  const TankDesign tank = example::many_turns(example::white());
  const double resonance = 2.0 * std::numbers::pi * resonance_frequency(tank);
  const double half = 0.5 / quality_factor(tank, resonance);
  const auto edge = sharpness(tank, resonance, 0.0, 0.0, half);
  CHECK(edge.half_bandwidth == relative(half, 1e-12));
  outside.matches("gain at the band edge over nominal", edge.worst_gain / edge.nominal_gain, std::sqrt(0.5),
                  0.03);
  CHECK(edge.concern == Concern::none);
  const auto all = sharpness(tank, resonance, 0.04, 0.02, 0.01);
  CHECK(all.detuning == relative(0.04, 0.05));
  CHECK(all.worst_gain < 0.5 * all.nominal_gain);
  CHECK(all.concern == Concern::sharp);
  CHECK(sharpness(example::worked(example::white()), example::omega, 0.02, 0.05, 0.0).concern ==
        Concern::none);
  TankDesign poor = example::worked(example::white());
  poor.resistance = 12.0;
  CHECK(sharpness(poor, example::omega, 0.02, 0.05, 0.0).concern == Concern::dull);
  CHECK_THROWS_AS(sharpness(poor, example::omega, 1.0, 0.0, 0.0), InputError);
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
