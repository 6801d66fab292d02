#include <doctest/doctest.h>

#include <cmath>

#include "models/coil/round_wire.hpp"
#include "models/coil/series_circuit.hpp"
#include "models/constants.hpp"
#include "tests/coil/room.hpp"
#include "tests/outside.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;
using constant::mu_0;
using constant::pi;

namespace {

// A coil of square cells `cell` wide: `across` layers of `along` turns, whose cross-section's inner radius is
// `inner`.
Winding square_cells(double inner, int across, int along, double cell, double bare) {
  return {2.0 * (inner + 0.5 * cell - 0.5 * bare), double(across * along), across, {bare, cell}, cell};
}

// What separate round wires have over a cross-section filled with current evenly (Rosa & Grover 1912
// [rosa1912], formula for coils of square cells): mu0 a N (ln(D/d) + 0.13806 + E), D cell, d bare; E = 0.0171
// or so for many layers, 0.01 to 0.018 here (from memory).
double round_wire_correction(double mean_radius, double turns, double cell, double bare) {
  return mu_0 * mean_radius * turns * (std::log(cell / bare) + 0.13806 + 0.017);
}

}  // namespace

// Brooks' coil (square cross-section of side c, inner radius c, mean radius 3c/2): L = 1.6994e-6 a N^2 H with
// a in metres (Grover 1946 [grover1946], from memory); even current, at low frequency. Four digits printed;
// the correction for wires is 2 % here and known to 5 % of itself.
TEST_CASE("Brooks coil") {
  const Outside outside("Grover 1946, Brooks' coil [memory]");
  for (const int side : {10, 16}) {
    const double cell = 1e-3, bare = 0.8e-3, c = side * cell, a = 1.5 * c, N = side * side;
    const SeriesCircuit coil({wind(square_cells(c, side, side, cell, bare), 0.0, Sense::right_handed)});
    const double even = 1.6994e-6 * a * N * N;
    outside.matches("inductance of Brooks' coil [H]", coil.inductance(1.0, room),
                    even + round_wire_correction(a, N, cell, bare), 1e-3);
  }
}

// Wheeler 1928 [wheeler1928]: L [uH] = 0.8 a^2 N^2/(6 a + 9 l + 10 c), a mean radius, l length, c depth in
// inches; "about 1 %" for coils in which the three terms are about equal.
TEST_CASE("multi-layer coils against Wheeler") {
  const Outside outside("Wheeler 1928, multi-layer coils");
  for (const auto& [across, along] : {std::pair{10, 10}, {6, 12}, {12, 8}}) {
    const double cell = 0.5e-3, bare = 0.45e-3, c = across * cell, l = along * cell;
    const double a = (9.0 * l + 10.0 * c) / 12.0;  // 6 a = mean of the others
    const double N = across * along, inch = 25.4e-3;
    const SeriesCircuit coil(
        {wind(square_cells(a - 0.5 * c, across, along, cell, bare), 0.0, Sense::right_handed)});
    const double wheeler = 0.8e-6 * (a * a / inch) * N * N / (6.0 * a + 9.0 * l + 10.0 * c) +
                           round_wire_correction(a, N, cell, bare);
    CAPTURE(across);
    outside.matches("inductance of multi-layer coils [H]", coil.inductance(1.0, room), wheeler, 0.015);
  }
}

// Layers of fine wire: at w/depth = 1/3 next to nothing is screened, so the second route is Dowell's field
// [dowell1966] of layers in a long coil, rising in even steps from 0 outside to H inside, with the
// inside field of a solenoid along its axis, n I (cos alpha_1 + cos alpha_2)/2. Neglected: the field outside
// and the radial one at the ends (length is 14 diameters), a few per cent.
TEST_CASE("resistance of layered fine wire") {
  const Outside outside("Dowell 1966, field of layers in a long coil");
  const double bare = 0.125e-3, cell = 0.144e-3, f = 118e3, rho = copper_resistivity(room);
  const int across = 8, along = 400;
  const double radius = 2e-3, length = along * cell;
  const SeriesCircuit coil(
      {wind(square_cells(radius - 4.0 * cell, across, along, cell, bare), 0.0, Sense::right_handed)});
  const auto R = coil.resistance(f, room);
  const double wire = 2.0 * pi * radius * across * along;
  Outside("resistivity times length over area")
      .matches("DC resistance of layered fine wire [ohm]", R.dc, rho * wire / (0.25 * pi * bare * bare),
               1e-9);

  double along_axis = 0.0;  // mean of the share squared
  for (int i = 0; i < 200; ++i) {
    const double z = length * (i + 0.5) / 200.0;
    const double share = 0.5 * (z / std::hypot(z, radius) + (length - z) / std::hypot(length - z, radius));
    along_axis += share * share / 200.0;
  }
  double square = 0.0;  // H^2 along the wire, 1/m
  for (int layer = 0; layer < across; ++layer) {
    const double turn = 2.0 * pi * (radius + (layer - 0.5 * (across - 1)) * cell);
    square += along_axis * along * turn * std::pow((across - layer - 0.5) / cell, 2);
  }
  const double w = 0.5 * bare;
  outside.matches(
      "proximity resistance of layered fine wire [ohm]", R.proximity,
      2.0 * pi * 2.0 * pi * f * mu_0 * w * w * transverse_loss_factor(w / skin_depth(rho, f)) * square, 0.03);
}
