#include "models/coil/series_circuit.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/coil/round_wire.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coil/room.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;

namespace {

SeriesCircuit worked_drive() {
  const Winding w{0.200, 10.0, 1, {1.0e-3, 1.06e-3}, 1.5e-3};
  return SeriesCircuit({wind(w, 0.080, Sense::right_handed), wind(w, 0.240, Sense::right_handed)});
}
}  // namespace

// model.md section 8 (an independent implementation of the model). The drive coils come out 0.048 % lower
// than its 91.39 uH. The parts of ours are each held against a second route (Nagaoka and Rosa, Neumann,
// Bessel quadrature), so the tolerance here is 0.05 %, not the last digit. For the tag coil the page names no
// enamel: 0.144 mm is the diameter that gives its L, so only R is an independent check there (half a unit of
// the last digit).
TEST_CASE("worked numbers of the model") {
  const Outside outside("model.md section 8, an independent implementation");
  outside.matches("inductance of the worked drive coils [H]", worked_drive().inductance(117.72e3, room),
                  91.39e-6, 5e-4);

  const Winding tag{0.030, 23.0, 3, {0.125e-3, 0.144e-3}, 0.144e-3};
  const SeriesCircuit receiver({wind(tag, 0.0, Sense::right_handed)});
  const double L = receiver.inductance(117.19e3, room), R = receiver.resistance(117.19e3, room).total;
  MESSAGE("tag coil: L ", L, " H, R ", R, " ohm, Q ", 2.0 * constant::pi * 117.19e3 * L / R);
  outside.near("resistance of the worked tag coil [ohm]", R, 3.13, 0.005);
  outside.near("inductance of the worked tag coil [H]", L, 39.22e-6, 0.005e-6);
}

// Low frequency, by hand: a turn far from all others but one has H = 1/(2 pi s) from it; loss pi omega^2
// mu0^2 sigma w^4 H^2/8 a metre, both turns, R = 2 P/I^2. Two turns of radius a at spacing s << a: H differs
// from the straight wire's by s/(2a) ln(8a/s).
TEST_CASE("proximity loss of two close turns by hand") {
  const Outside outside("eddy loss of a thin wire in a uniform field, by hand");
  const double a = 1.0, s = 2e-3, w = 0.1e-3, f = 100.0;
  const SeriesCircuit pair(
      {wind({2.0 * a - 2.0 * w, 2.0, 1, {2.0 * w, 2.0 * w}, s}, 0.0, Sense::right_handed)});
  const double omega = 2.0 * constant::pi * f, H = 1.0 / (2.0 * constant::pi * s);
  const double loss = constant::pi * omega * omega * constant::mu_0 * constant::mu_0 /
                      copper_resistivity(room) * std::pow(w, 4) * H * H / 8.0;
  const auto R = pair.resistance(f, room);
  outside.matches("proximity resistance of two turns [ohm]", R.proximity,
                  2.0 * loss * 2.0 * 2.0 * constant::pi * a, 0.01);
  outside.matches("DC resistance of two turns [ohm]", R.dc,
                  copper_resistivity(room) * 4.0 * constant::pi * a / (constant::pi * w * w), 1e-12);
  CHECK(R.total == R.dc + R.skin + R.proximity);
  outside.matches("skin resistance of two turns [ohm]", R.skin,
                  R.dc * std::pow(w / skin_depth(copper_resistivity(room), f), 4) / 48.0, 1e-3);
}

TEST_CASE("trust in the proximity loss") {
  const auto trust = [](double pitch) {
    return SeriesCircuit({wind({0.2, 10.0, 1, {1e-3, 1.06e-3}, pitch}, 0.0, Sense::right_handed)})
        .resistance_trust(118e3, room);
  };
  CHECK(trust(2.0e-3).validity == ProximityValidity::spaced);
  CHECK(trust(2.0e-3).low_by_up_to < 0.04);
  CHECK(trust(1.5e-3).validity == ProximityValidity::solved);
  CHECK(trust(1.5e-3).low_by_up_to <= 0.01);
  CHECK(trust(1.5e-3).spacing_ratio == relative(1.5, 1e-12));
}

// At two diameters the methods change over: they agree within the 4 % that model.md states for the
// uniform-field one there.
TEST_CASE("the two proximity methods meet at a spacing of two diameters") {
  const auto R = [](double pitch) {
    return SeriesCircuit({wind({0.2, 10.0, 1, {1e-3, 1.06e-3}, pitch}, 0.0, Sense::right_handed)})
        .resistance(118e3, room)
        .total;
  };
  CHECK(R(1.99999e-3) == relative(R(2.00001e-3), 0.04));
  CHECK(R(1.99999e-3) > R(2.00001e-3));
}

// Two coils whose ends nearly touch are one close winding, however wide each is wound by itself.
TEST_CASE("coils that lie close to each other count as close") {
  const Winding w{0.2, 2.0, 1, {1e-3, 1.06e-3}, 4e-3};
  const SeriesCircuit pair({wind(w, 0.0, Sense::right_handed), wind(w, 5.2e-3, Sense::right_handed)});
  const auto trust = pair.resistance_trust(118e3, room);
  CHECK(trust.spacing_ratio == relative(1.2, 1e-9));
  CHECK(trust.validity == ProximityValidity::solved);
  CHECK(pair.coil_resistance(0, 118e3, room).total ==
        relative(pair.coil_resistance(1, 118e3, room).total, 1e-6));
}

TEST_CASE("two coils in one place are refused") {
  const auto coil = wind({0.2, 10.0, 1, {1e-3, 1.06e-3}, 1.5e-3}, 0.1, Sense::right_handed);
  CHECK_THROWS_AS(SeriesCircuit({coil, coil}), driftglow::InputError);
}
