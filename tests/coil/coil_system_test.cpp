#include "models/coil/coil_system.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_sf_ellint.h>

#include <cmath>
#include <complex>

#include "models/coil/inductance.hpp"
#include "models/coil/round_wire.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coil/room.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using Complex = std::complex<double>;
using Eigen::Vector3d;

namespace {
using constant::pi;
constexpr double frequency = 118e3, omega = 2.0 * pi * frequency;

WoundCoil wound(double turns, Sense sense = Sense::right_handed) {
  return wind({0.200, turns, 1, {1.0e-3, 1.06e-3}, 2.1e-3}, 0.0, sense);
}
PlacedCoil placed(double turns, const Vector3d& centre, const Vector3d& axis = Vector3d::UnitZ()) {
  return {wound(turns), Placement(centre, axis)};
}
const Vector3d low(0.0, 0.0, 0.08), high(0.0, 0.0, 0.24);
}  // namespace

// A second route to the same physics: SeriesCircuit sums turns of coaxial coils. Tolerance: quadrature of
// mutual inductance (1e-12) and rounding.
TEST_CASE("coaxial coils in series are a series circuit") {
  const CoilSystem system({placed(10, low), placed(6, high)}, {{Connection::series, {0, 1}}});
  const auto response = system.response(frequency, both_at_room);
  const SeriesCircuit circuit({wind({0.200, 10.0, 1, {1.0e-3, 1.06e-3}, 2.1e-3}, 0.08, Sense::right_handed),
                               wind({0.200, 6.0, 1, {1.0e-3, 1.06e-3}, 2.1e-3}, 0.24, Sense::right_handed)});
  CHECK(response.inductance(0) == relative(circuit.inductance(frequency, both_at_room.copper), 1e-10));
  CHECK(response.resistance(0) == relative(circuit.resistance(frequency, both_at_room.copper).total, 1e-10));
  CHECK(std::abs(response.currents(0, 0) - 1.0) < 1e-14);
  CHECK(std::abs(response.currents(1, 0) - 1.0) < 1e-14);
  CHECK(response.reflected_inductance(0) == 0.0);
  // The field too.
  const Vector3d B = system.fields({0.03, 0.0, 0.1}) * Eigen::Vector2d::Ones();
  const auto turns = circuit.turns();
  const auto want = field_of(turns, 0.03, 0.1);
  CHECK(B.x() == relative(0.03 * want.radial_over_rho, 1e-12));
  CHECK(B.z() == relative(want.axial, 1e-12));
}

// The same of litz wire.
TEST_CASE("coils of litz wire") {
  const Winding w{0.200, 10.0, 1, {1.0e-3, 1.1e-3, Litz{20, 0.18e-3, 1.02}}, 2.1e-3};
  const CoilSystem system({{wind(w, 0.0, Sense::right_handed), Placement(low, Vector3d::UnitZ())},
                           {wind(w, 0.0, Sense::right_handed), Placement(high, Vector3d::UnitZ())}},
                          {{Connection::series, {0, 1}}});
  const SeriesCircuit circuit({wind(w, 0.08, Sense::right_handed), wind(w, 0.24, Sense::right_handed)});
  // The field of the other coil is taken at the bundle's middle here, and over the bundle there.
  CHECK(system.response(frequency, both_at_room).resistance(0) ==
        relative(circuit.resistance(frequency, both_at_room.copper).total, 1e-5));
}

// The whole arrangement turned and moved in space: nothing changes.
TEST_CASE("a circuit does not know where it is") {
  const Vector3d axis = Vector3d(1.0, 2.0, -0.5).normalized(), centre(0.3, -0.2, 0.1);
  const CoilSystem upright({placed(10, low), placed(6, high)}, {{Connection::parallel, {0, 1}}});
  const CoilSystem askew({placed(10, centre, axis), placed(6, centre + 0.16 * axis, axis)},
                         {{Connection::parallel, {0, 1}}});
  const auto a = upright.response(frequency, both_at_room), b = askew.response(frequency, both_at_room);
  CHECK(std::abs(a.impedance(0, 0) - b.impedance(0, 0)) < 1e-10 * std::abs(a.impedance(0, 0)));
}

// Two coupled branches by hand (Kirchhoff): I1/I = (Z22 - Z12)/(Z11 + Z22 - 2 Z12), Z = (Z11 Z22 -
// Z12^2)/(Z11 + Z22 - 2 Z12).
TEST_CASE("parallel coils share the current by their impedances") {
  const Outside outside("Kirchhoff's rules for two coupled branches");
  const CoilSystem system({placed(10, low), placed(6, high)}, {{Connection::parallel, {0, 1}}});
  const auto Z = system.impedance(frequency, both_at_room);
  const auto response = system.response(frequency, both_at_room);
  const Complex sum = Z(0, 0) + Z(1, 1) - 2.0 * Z(0, 1);
  outside.near("current share of coupled parallel coils", response.currents(0, 0), (Z(1, 1) - Z(0, 1)) / sum,
               1e-13);
  outside.near("sum of parallel currents", response.currents.sum(), 1.0, 1e-13);
  outside.near("impedance of coupled parallel coils [ohm]", response.impedance(0, 0),
               (Z(0, 0) * Z(1, 1) - Z(0, 1) * Z(0, 1)) / sum, 1e-13 * std::abs(sum));
  // Equal coils: half each.
  const CoilSystem equal({placed(10, low), placed(10, high)}, {{Connection::parallel, {0, 1}}});
  outside.near("current share of equal parallel coils",
               equal.response(frequency, both_at_room).currents(0, 0), 0.5, 1e-10);
}

// A circuit whose terminals are open still has the loop of its two coils: current of the loop by hand, (M of
// the driving coil to one - to the other)/(Z11 + Z22 - 2 Z12).
TEST_CASE("an open parallel circuit circulates") {
  const Outside outside("Kirchhoff's rules for two coupled branches");
  const CoilSystem system({placed(10, low), placed(6, high), placed(5, {0.0, 0.0, 0.0})},
                          {{Connection::parallel, {0, 1}}, {Connection::series, {2}}});
  const auto Z = system.impedance(frequency, both_at_room);
  const auto response = system.response(frequency, both_at_room);
  const Complex loop = -(Z(0, 2) - Z(1, 2)) / (Z(0, 0) + Z(1, 1) - 2.0 * Z(0, 1));
  outside.near("current circulating in an open parallel circuit", response.currents(0, 1), loop, 1e-13);
  outside.near("current circulating in an open parallel circuit", response.currents(1, 1), -loop, 1e-13);
  CHECK(std::abs(loop) > 1e-3);
  outside.near("reciprocity of mutual impedances [ohm]", response.impedance(0, 1), response.impedance(1, 0),
               1e-12 * std::abs(response.impedance(0, 1)));
}

TEST_CASE("crossed circuits with one centre are not coupled") {
  const Outside outside("symmetry: crossed coils with one centre");
  const CoilSystem system({placed(10, high, Vector3d::UnitX()),
                           {wind({0.23, 10.0, 1, {1e-3, 1.06e-3}, 2.1e-3}, 0.0, Sense::right_handed),
                            Placement(high, Vector3d::UnitY())}},
                          {{Connection::series, {0}}, {Connection::series, {1}}});
  outside.below("coupling of crossed circuits",
                std::fabs(system.response(frequency, both_at_room).coupling(0, 1)), 1e-12);
}

// Coils that cross, stand beside each other and share currents, with metal: still Z is symmetric
// [carson1924], and |k| <= 1 or energy would be negative. Tolerance: the quadrature of mutual inductances.
TEST_CASE("circuits act on each other alike both ways") {
  const Outside outside("reciprocity [carson1924, memory]");
  const CoilSystem system(
      {placed(10, low), placed(6, high), placed(4, {0.3, 0.05, 0.1}, Vector3d(1.0, 2.0, 2.0).normalized()),
       placed(7, {-0.3, 0.0, 0.2}, Vector3d::UnitX())},
      {{Connection::parallel, {0, 1}}, {Connection::series, {2}}, {Connection::series, {3}}},
      {ShortedTurn(TurnPath{Placement(Vector3d::Zero(), Vector3d::UnitZ()), {{0.14, 0.0, 1.0}}},
                   RoundSection{3e-3}, metal::brass)});
  const auto response = system.response(frequency, both_at_room);
  REQUIRE(response.impedance.rows() == system.circuits());
  int pairs = 0;
  for (int i = 0; i < system.circuits(); ++i) {
    for (int j = i + 1; j < system.circuits(); ++j, ++pairs) {
      outside.near("mutual impedance of circuits both ways [ohm]", response.impedance(i, j),
                   response.impedance(j, i), 1e-9 * std::abs(response.impedance(i, j)));
      CHECK(std::fabs(response.coupling(i, j)) > 1e-4);
      CHECK(std::fabs(response.coupling(i, j)) < 1.0);
    }
  }
  CHECK(pairs == 3);
}

// Joule's law: what the terminals take in is lost in the conductors.
TEST_CASE("power at the terminals is the losses") {
  const Outside outside("Joule's law: power taken in is lost in the conductors");
  const CoilSystem system(
      {placed(10, low, {0.0, 0.4, 1.0}), placed(6, high), placed(8, {0.0, 0.02, 0.0})},
      {{Connection::parallel, {0, 1}}, {Connection::series, {2}}},
      {ShortedTurn(TurnPath{Placement({0.0, 0.0, 0.15}, {0.1, 0.0, 1.0}), {{0.12, 0.0, 1.0}}},
                   RoundSection{3e-3}, metal::brass)});
  const auto response = system.response(frequency, both_at_room);
  Eigen::VectorXcd terminal(2);
  terminal << Complex(1.0, 0.3), Complex(-0.2, 0.9);
  const Eigen::VectorXd losses = system.losses(frequency, both_at_room, response.currents * terminal);
  outside.matches("losses of coils and closed metal [W]", losses.sum(),
                  0.5 * terminal.dot(response.impedance * terminal).real(), 1e-10);
  CHECK(losses.minCoeff() > 0.0);
}

// Closed form of two coupled coaxial turns: I2/I1 = -j omega M/(R2 + j omega L2) and reflected impedance
// omega^2 M^2/(R2 + j omega L2) (any text on coupled circuits). M by Maxwell's first form with GSL's elliptic
// integrals, L2 and R2 by formulas of the trade: mu0 a (ln 8a/w - 2 + delta/2w), rho 2 pi a/(pi (2w -
// delta) delta) for w/delta = 8. Tolerance 0.5 %: those two are the thick-wire approximations.
TEST_CASE("an aluminium ring at the floor: induced current") {
  const Outside outside("two coupled turns: Maxwell's M by GSL's elliptic integrals, thick-wire L and R");
  const double a = 0.11, b = 0.1, d = 0.08, w = 2e-3;
  const CoilSystem system(
      {{wind({2.0 * a - 1e-3, 1.0, 1, {1e-3, 1e-3}, 1e-3}, 0.0, Sense::right_handed),
        Placement({0.0, 0.0, d}, Vector3d::UnitZ())}},
      {{Connection::series, {0}}},
      {ShortedTurn(TurnPath{Placement(Vector3d::Zero(), Vector3d::UnitZ()), {{b, 0.0, 1.0}}},
                   RoundSection{2.0 * w}, metal::aluminium)});
  const double k = std::sqrt(4.0 * a * b / ((a + b) * (a + b) + d * d));
  const double M = constant::mu_0 * std::sqrt(a * b) *
                   ((2.0 / k - k) * gsl_sf_ellint_Kcomp(k, GSL_PREC_DOUBLE) -
                    2.0 / k * gsl_sf_ellint_Ecomp(k, GSL_PREC_DOUBLE));
  const double rho = 2.8264e-8, delta = std::sqrt(rho / (pi * frequency * constant::mu_0));
  const double L2 = constant::mu_0 * b * (std::log(8.0 * b / w) - 2.0 + 0.5 * delta / w);
  const double R2 = rho * 2.0 * pi * b / (pi * (2.0 * w - delta) * delta);
  const Complex Z2(R2, omega * L2);

  const auto response = system.response(frequency, both_at_room);
  const Complex want = -Complex(0.0, omega * M) / Z2;
  MESSAGE("induced ", response.currents(1, 0).real(), " ", response.currents(1, 0).imag(), "j; closed form ",
          want.real(), " ", want.imag(), "j");
  outside.matches("current induced in an aluminium ring, real part [A/A]", response.currents(1, 0).real(),
                  want.real(), 0.005);
  outside.matches("current induced in an aluminium ring, imaginary part [A/A]",
                  response.currents(1, 0).imag(), want.imag(), 0.005);
  const Complex reflected = omega * omega * M * M / Z2;
  outside.matches("resistance reflected by an aluminium ring [ohm]", response.reflected_resistance(0),
                  reflected.real(), 0.01);
  outside.matches("inductance reflected by an aluminium ring [H]", response.reflected_inductance(0),
                  reflected.imag() / omega, 0.005);
  CHECK(response.reflected_inductance(0) < 0.0);

  // Without losses the flux through a ring cannot change: the loop's current is exactly -M/L.
  const auto parts = current_parts(response, Eigen::VectorXcd::Ones(1));
  REQUIRE(parts.cols() == 2);
  CHECK(parts(1, 1) == relative(-want.imag(), 0.005));

  // Field at the floor's centre, Biot-Savart on the axis, in phase.
  const auto on_axis = [](double radius, double z) {
    return constant::mu_0 * radius * radius / (2.0 * std::pow(radius * radius + z * z, 1.5));
  };
  const Vector3d B = system.fields(Vector3d::Zero()) * parts.col(0);
  const double bare = on_axis(a, d), shaded = bare + want.real() * on_axis(b, 0.0);
  MESSAGE("the ring takes ", 1.0 - shaded / bare, " of the field at the floor's centre");
  Outside("Biot-Savart on the axis")
      .matches("field at the centre of an aluminium ring [T/A]", B.z(), shaded, 0.005);
}

// By symmetry the rods of a cage carry nothing in a coaxial field, and its two rings are two rings.
// Tolerance: the mutual resistance from losses in the coil's wire, summed on 32 points of a turn that six
// rods pass.
TEST_CASE("a cage in a coaxial field is two rings") {
  const Outside outside("symmetry: rods of a cage carry nothing in a coaxial field");
  const auto meshes = cage_meshes(0.085, 0.0, 0.3, 6);
  std::vector<ShortedTurn> cage, rings;
  for (const auto& mesh : meshes) cage.push_back(ShortedTurn(mesh, RoundSection{4e-3}, metal::brass));
  RodPath low_ring = meshes.back();
  for (auto& corner : low_ring.corners) corner.z() = 0.0;
  rings.push_back(ShortedTurn(low_ring, RoundSection{4e-3}, metal::brass));
  rings.push_back(ShortedTurn(meshes.back(), RoundSection{4e-3}, metal::brass));
  const std::vector<CoilCircuit> circuits{{Connection::series, {0}}};
  const CoilSystem caged({placed(10, {0.0, 0.0, 0.1})}, circuits, cage);
  const CoilSystem ringed({placed(10, {0.0, 0.0, 0.1})}, circuits, rings);
  const auto a = caged.response(frequency, both_at_room), b = ringed.response(frequency, both_at_room);
  const Complex low_current = b.currents(1, 0), high_current = b.currents(2, 0);
  for (int rod = 0; rod < 6; ++rod)
    outside.near("current of a cage's mesh against that of a ring [A/A]", a.currents(1 + rod, 0), low_current,
                 1e-6);
  CHECK(std::abs(a.currents(7, 0) - (low_current + high_current)) < 1e-9);
  outside.near("impedance with a cage against that with two rings [ohm]", a.impedance(0, 0),
               b.impedance(0, 0), 1e-10 * std::abs(b.impedance(0, 0)));
  CHECK(std::abs(low_current) > 0.1);
  const auto losses = caged.losses(frequency, both_at_room, a.currents.col(0));
  CHECK(losses.sum() == relative(0.5 * a.resistance(0), 1e-10));
}

// Across the axis the side meshes carry current, and loops of different metal cannot share a rod.
TEST_CASE("a cage in a field across") {
  const auto meshes = cage_meshes(0.08, 0.0, 0.2, 4);
  std::vector<ShortedTurn> cage;
  for (const auto& mesh : meshes) cage.push_back(ShortedTurn(mesh, RoundSection{4e-3}, metal::brass));
  const CoilSystem system({placed(10, {0.13, 0.0, 0.1}, Vector3d::UnitX())}, {{Connection::series, {0}}},
                          cage);
  const auto response = system.response(frequency, both_at_room);
  CHECK(std::abs(response.currents(1, 0)) > 0.05);
  CHECK(response.reflected_inductance(0) < 0.0);
  CHECK(response.reflected_resistance(0) > 0.0);
  // Mirror images in the plane y = 0 on the coil's axis.
  CHECK(std::abs(response.currents(1, 0) - response.currents(4, 0)) < 1e-9);
  cage[0] = ShortedTurn(meshes[0], RoundSection{4e-3}, metal::copper);
  CHECK_THROWS_AS(
      CoilSystem({placed(10, {0.13, 0.0, 0.1}, Vector3d::UnitX())}, {{Connection::series, {0}}}, cage),
      driftglow::InputError);
}

TEST_CASE("phases") {
  const CoilSystem system({placed(10, low), placed(10, high)},
                          {{Connection::series, {0}}, {Connection::series, {1}}});
  const auto response = system.response(frequency, both_at_room);
  Eigen::VectorXcd same(2), quarter(2);
  same << 2.0, 3.0;
  quarter << 2.0, Complex(0.0, 3.0);
  CHECK(current_parts(response, same).cols() == 1);
  const auto parts = current_parts(response, quarter);
  REQUIRE(parts.cols() == 2);
  CHECK(parts(0, 0) == relative(2.0, 1e-12));
  CHECK(parts(1, 1) == relative(-3.0, 1e-12));  // leads by a quarter period
}

TEST_CASE("faults of an arrangement") {
  CHECK_THROWS_AS(
      CoilSystem({placed(10, low), placed(10, low, {0.0, 0.3, 1.0})}, {{Connection::series, {0, 1}}}),
      driftglow::InputError);
  CHECK_THROWS_AS(CoilSystem({placed(10, low), placed(10, high)}, {{Connection::series, {0}}}),
                  driftglow::LogicError);
}
