#include "models/driver/coil_load.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/outside.hpp"

using namespace driftglow;
using driver::CoilLoad;
using Eigen::Vector3d;

namespace {

constexpr double frequency = 118e3, warm = 333.15, cool = 293.15;

coil::WoundCoil wound(double turns, double height, double pitch = 2.1e-3) {
  return coil::wind({0.200, turns, 1, {1.0e-3, 1.06e-3}, pitch}, height, coil::Sense::right_handed);
}

coil::PlacedCoil placed(double turns, double height, double pitch = 2.1e-3) {
  return {wound(turns, 0.0, pitch), coil::Placement({0.0, 0.0, height}, Vector3d::UnitZ())};
}

}  // namespace

// Second route: a series circuit sums coaxial turns, a system solves its impedance matrix. Tolerance: the
// system's quadrature of mutual inductances.
TEST_CASE("a system of coaxial coils in series loads a driver as the series circuit does") {
  const Outside outside("the sum over coaxial turns");
  const coil::SeriesCircuit coils({wound(10, 0.08), wound(6, 0.24)});
  const coil::CoilSystem system({placed(10, 0.08), placed(6, 0.24)}, {{coil::Connection::series, {0, 1}}});
  const CoilLoad series(coils), solved(system, 0, cool);
  REQUIRE(solved.coils() == 2);
  CHECK(solved.coil(1).wire_length == series.coil(1).wire_length);
  outside.matches("inductance of a system's load [H]", solved.inductance(frequency, warm),
                  series.inductance(frequency, warm), 1e-10);
  const auto want = series.at(frequency, {warm, warm}), got = solved.at(frequency, {warm, warm});
  outside.matches("inductance of a system's load [H]", got.L, want.L, 1e-10);
  outside.matches("resistance of a system's load [ohm]", got.resistance.total, want.resistance.total, 1e-9);
  outside.matches("DC resistance of a system's load [ohm]", got.resistance.dc, want.resistance.dc, 1e-12);
  outside.matches("skin resistance of a system's load [ohm]", got.resistance.skin, want.resistance.skin,
                  1e-12);
  outside.matches("proximity resistance of a system's load [ohm]", got.resistance.proximity,
                  want.resistance.proximity, 1e-7);
  for (int k = 0; k < 2; ++k) {
    outside.matches("resistance of a coil of a system's load [ohm]", got.coil_resistance[k],
                    want.coil_resistance[k], 1e-9);
    outside.matches("current share of coils in series", got.current_share[k], 1.0, 1e-12);
  }
  outside.near("resistance elsewhere without metal [ohm]", got.elsewhere, 0.0, 1e-9 * got.resistance.total);
  // Copper by IEC 60028: 0.393 % a kelvin.
  outside.matches("DC resistance of a system's load at 40 K more",
                  got.resistance.dc / solved.at(frequency, {cool, cool}).resistance.dc, 1.0 + 0.00393 * 40.0,
                  1e-12);
}

// Kirchhoff: equal branches carry half each, so L = (L1 + M)/2, and each coil's loss counts a quarter.
TEST_CASE("equal coils in parallel") {
  const Outside outside("Kirchhoff's rules for two equal branches");
  const coil::CoilSystem parallel({placed(10, 0.08, 1.2e-3), placed(10, 0.24, 1.2e-3)},
                                  {{coil::Connection::parallel, {0, 1}}});
  const coil::SeriesCircuit series({wound(10, 0.08, 1.2e-3), wound(10, 0.24, 1.2e-3)});
  const coil::SeriesCircuit alone({wound(10, 0.0, 1.2e-3)});
  const CoilLoad load(parallel, 0, cool);
  const auto state = load.at(frequency, {cool, cool});
  for (const double share : state.current_share)
    outside.matches("current share of equal coils in parallel", share, 0.5, 1e-9);
  outside.matches("inductance of equal coils in parallel [H]", state.L,
                  0.25 * series.inductance(frequency, cool), 1e-6);
  outside.matches("DC resistance of equal coils in parallel [ohm]", state.resistance.dc,
                  0.5 * alone.resistance(frequency, cool).dc, 1e-9);
  outside.matches("induced inductance of equal coils in parallel [H]",
                  load.induced_inductance(frequency, cool), 0.5 * alone.induced_inductance(frequency, cool),
                  1e-9);
  CHECK(load.induced_inductance(frequency, cool) < 0.0);
}

// Joule: what the terminals take beyond the coils' copper is lost in the ring, whose metal stays at its own
// temperature; resistivity of brass by its coefficient.
TEST_CASE("closed metal takes what is lost elsewhere") {
  const Outside outside("Joule's law: power taken in is lost in the conductors");
  const coil::CoilSystem system(
      {placed(10, 0.08)}, {{coil::Connection::series, {0}}},
      {coil::ShortedTurn(
          coil::TurnPath{coil::Placement(Vector3d::Zero(), Vector3d::UnitZ()), {{0.12, 0.0, 1.0}}},
          coil::RoundSection{3e-3}, coil::metal::brass)});
  const CoilLoad load(system, 0, cool);
  const auto state = load.at(frequency, {warm});
  const coil::Temperatures at{warm, cool};
  const Eigen::VectorXcd currents = system.response(frequency, at).currents.col(0);
  outside.matches("resistance by a brass ring [ohm]", state.elsewhere,
                  2.0 * system.losses(frequency, at, currents)[1], 1e-9);
  CHECK(state.elsewhere > 0.0);
  // Warm copper alone changes it by the loss that the ring's field makes in the coil's wires, which the two
  // share: less than a thousandth here.
  CHECK(load.at(frequency, {cool}).elsewhere == doctest::Approx(state.elsewhere).epsilon(1e-3));
  // Warm brass: the ring's current is set by its inductance, its resistance at many skin depths by the root
  // of the resistivity. Tolerance: four skin depths are not many.
  outside.matches("resistance by a brass ring at 40 K more",
                  CoilLoad(system, 0, warm).at(frequency, {warm}).elsewhere / state.elsewhere,
                  std::sqrt(1.0 + 0.0016 * 40.0), 0.01);
}

TEST_CASE("a system is trusted as its closest winding is") {
  const coil::CoilSystem system({placed(10, 0.08), placed(10, 0.24, 1.2e-3)},
                                {{coil::Connection::series, {0, 1}}});
  const CoilLoad load(system, 0, cool);
  const auto spaced = system.alone(0).resistance_trust(frequency, cool),
             close = system.alone(1).resistance_trust(frequency, cool);
  REQUIRE(spaced.low_by_up_to != close.low_by_up_to);
  CHECK(load.resistance_trust(frequency, cool).low_by_up_to ==
        std::fmax(spaced.low_by_up_to, close.low_by_up_to));
}
