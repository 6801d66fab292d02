#include "models/coil/litz.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "models/coil/close_winding.hpp"
#include "models/coil/round_wire.hpp"
#include "models/coil/series_circuit.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coil/room.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using constant::mu_0;
using constant::pi;

namespace {

// Strands on a hexagonal lattice in a round bundle, an equal share of the current in each.
struct Bundle {
  std::vector<ParallelWire> strands;
  double diameter;  // of the circle that the same number of lattice cells fills
};

Bundle bundle_of(int rings, double strand_diameter, double pitch) {
  Bundle bundle;
  const double reach = (rings + 0.3) * pitch;
  for (int row = -rings - 2; row <= rings + 2; ++row) {
    for (int i = -2 * rings - 4; i <= 2 * rings + 4; ++i) {
      const double x = pitch * (i + 0.5 * row), y = pitch * 0.5 * std::sqrt(3.0) * row;
      if (std::hypot(x, y) < reach) bundle.strands.push_back({x, y, 0.5 * strand_diameter, 1.0});
    }
  }
  for (auto& strand : bundle.strands) strand.current /= static_cast<double>(bundle.strands.size());
  const double cells = static_cast<double>(bundle.strands.size()) * 0.5 * std::sqrt(3.0) * pitch * pitch;
  bundle.diameter = 2.0 * std::sqrt(cells / pi);
  return bundle;
}

}  // namespace

// Sullivan 1999 [sullivan1999] for a winding of N turns of n strands in a window of breadth b, k = 1 (from
// memory), at low frequency: its field rises evenly across the layers to N I/b, mean square N^2 I^2/(3 b^2).
// Exact to (r/depth)^4.
TEST_CASE("litz in a one-dimensional field against Sullivan") {
  const Outside outside("Sullivan 1999, litz winding in a window [memory]");
  const double rho = copper_resistivity(room), f = 20e3, omega = 2.0 * pi * f, d = 0.05e-3, b = 20e-3,
               N = 30.0;
  const Litz litz{100, d, 1.0};
  const auto R = litz_resistance(litz, 0.8e-3, rho, f);
  const double square = N * N / (3.0 * b * b);
  const double sullivan =
      pi * pi * omega * omega * mu_0 * mu_0 * N * N * 1e4 * std::pow(d, 6) / (768.0 * rho * rho * b * b);
  outside.matches("proximity resistance of litz over direct current", R.external * square / R.dc, sullivan,
                  1e-3);
  Outside("resistivity times length over area")
      .matches("DC resistance of litz [ohm/m]", R.dc, rho / (100.0 * pi * 0.25 * d * d), 1e-12);
  CHECK(litz_resistance({100, d, 1.05}, 0.8e-3, rho, f).dc == relative(1.05 * R.dc, 1e-12));
}

// Second route: the strands one by one, each in the field of all others, and, with their mutual screening,
// the multipole solution of close_winding.hpp at equal strand currents.
TEST_CASE("the internal loss against a sum over strands") {
  const Outside outside("sum over strands, each in the field of all others");
  const double rho = copper_resistivity(room), d = 0.1e-3, pitch = 0.13e-3;
  struct Row {
    int rings;
    double tolerance;
  };
  // A strand's own field is not on itself: the sum is lower by about 1/n times a few.
  for (const auto& [rings, tolerance] : {Row{2, 0.15}, Row{3, 0.09}, Row{5, 0.05}}) {
    const Bundle bundle = bundle_of(rings, d, pitch);
    const int n = static_cast<int>(bundle.strands.size());
    CAPTURE(n);
    const double f = 118e3, r = 0.5 * d, relative_radius = r / skin_depth(rho, f);
    double squares = 0.0;
    for (const auto& strand : bundle.strands) {
      double x = 0.0, y = 0.0;
      for (const auto& other : bundle.strands) {
        if (&other == &strand) continue;
        const double dx = strand.x - other.x, dy = strand.y - other.y, s2 = dx * dx + dy * dy;
        x -= other.current * dy / (2.0 * pi * s2);
        y += other.current * dx / (2.0 * pi * s2);
      }
      squares += x * x + y * y;
    }
    const double summed =
        2.0 * pi * (2.0 * pi * f) * mu_0 * r * r * transverse_loss_factor(relative_radius) * squares;
    const auto R = litz_resistance({n, d, 1.0}, bundle.diameter, rho, f);
    outside.matches("internal proximity resistance of litz [ohm/m]", R.internal, summed, tolerance);
    double solved = 0.0;
    for (const double loss : solve_parallel_wires(bundle.strands, skin_depth(rho, f)).loss)
      solved += rho * loss;
    Outside("multipole solution of all strands")
        .matches("resistance of a litz bundle [ohm/m]", (R.dc + R.skin + R.internal), R.dc + R.skin + solved,
                 0.05);
  }
}

// Strands of one and a half skin depths, the end of the valid range, in a bundle of 91.
TEST_CASE("the whole resistance up to strands of one and a half skin depths") {
  const Outside outside("multipole solution of all strands");
  const double rho = copper_resistivity(room), d = 0.1e-3;
  const Bundle bundle = bundle_of(5, d, 0.13e-3);
  const int n = static_cast<int>(bundle.strands.size());
  for (const double ratio : {0.5, 1.0, 1.5}) {
    const double f = rho / (pi * mu_0 * std::pow(d / ratio, 2));
    const auto R = litz_resistance({n, d, 1.0}, bundle.diameter, rho, f);
    double solved = R.dc + R.skin;
    for (const double loss : solve_parallel_wires(bundle.strands, skin_depth(rho, f)).loss)
      solved += rho * loss;
    CAPTURE(ratio);
    outside.matches("resistance of litz up to strands of 1.5 skin depths [ohm/m]", R.dc + R.skin + R.internal,
                    solved, 0.05);
  }
}

// The use of it: a drive coil of the size of model.md section 8 in litz has less resistance at 118 kHz than
// in solid wire of the same copper, and more at direct current only by the lay.
TEST_CASE("a coil of litz wire") {
  const double f = 118e3;
  const Wire bundle{1.4e-3, 1.5e-3, Litz{100, 0.1e-3, 1.02}}, solid{1.0e-3, 1.06e-3};
  const auto litz_coil = wind({0.2, 10.0, 1, bundle, 1.5e-3}, 0.0, Sense::right_handed);
  const auto solid_coil = wind({0.2004, 10.0, 1, solid, 1.5e-3}, 0.0, Sense::right_handed);
  const SeriesCircuit litz({litz_coil}), wire({solid_coil});
  const auto a = litz.resistance(f, room), b = wire.resistance(f, room);
  CHECK(litz_coil.wire_length == relative(solid_coil.wire_length, 1e-12));
  CHECK(litz_coil.copper_mass == relative(1.02 * solid_coil.copper_mass, 1e-12));
  CHECK(a.dc == relative(1.02 * b.dc, 1e-12));
  CHECK(a.total < 0.6 * b.total);
  CHECK(a.total > a.dc);
  CHECK(litz.resistance_trust(f, room).validity == ProximityValidity::spaced);
  // The bundle is wider than the wire: mu0 a N ln(1.4/1.0) less, and the internal term stays at 1/4.
  CHECK(litz.inductance(f, room) ==
        relative(wire.inductance(f, room) -
                     mu_0 * 0.1007 * 10.0 *
                         (std::log(1.4) - 0.25 +
                          internal_inductance_term(0.5e-3 / skin_depth(copper_resistivity(room), f))),
                 1e-3));
  // External part by hand: two turns far larger than their spacing, field I/(2 pi s), mean square over the
  // bundle 1/(2 pi)^2 ln(1/(1 - b^2/s^2))/b^2; curvature adds s/(2a) ln(8a/s), 0.6 %.
  const double s = 3e-3, half = 0.7e-3;
  const SeriesCircuit pair({wind({2.0, 2.0, 1, bundle, s}, 0.0, Sense::right_handed)});
  const auto parts = litz_resistance(*bundle.litz, bundle.bare_diameter, copper_resistivity(room), f);
  const double square = -std::log(1.0 - half * half / (s * s)) / (half * half) / (4.0 * pi * pi);
  Outside("two straight bundles, their field averaged by hand")
      .matches("proximity resistance of two litz turns [ohm]", pair.resistance(f, room).proximity,
               (parts.internal + parts.external * square) * pair.coils()[0].wire_length, 0.01);
}

TEST_CASE("litz wire that cannot be is refused") {
  CHECK_THROWS_AS(check(Litz{1, 0.1e-3, 1.02}, 1e-3), driftglow::InputError);
  CHECK_THROWS_AS(check(Litz{50, 0.0, 1.02}, 1e-3), driftglow::InputError);
  CHECK_THROWS_AS(check(Litz{50, 0.1e-3, 0.9}, 1e-3), driftglow::InputError);
  CHECK_THROWS_AS(check(Litz{100, 0.1e-3, 1.02}, 1e-3), driftglow::InputError);
  CHECK_NOTHROW(check(Litz{7, 0.1e-3, 1.02}, 0.3e-3));
  const Wire crammed{1e-3, 1.1e-3, Litz{200, 0.1e-3, 1.02}};
  CHECK_THROWS_AS(wind({0.2, 10.0, 1, crammed, 1.5e-3}, 0.0, Sense::right_handed), driftglow::InputError);
}
