#include "models/coil/winding.hpp"

#include <doctest/doctest.h>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;

namespace {
const Winding three_layers{0.030, 22.5, 3, {0.125e-3, 0.149e-3}, 0.160e-3};
}

// Places counted by hand.
TEST_CASE("turns lie where they are wound") {
  const Outside outside("counted by hand");
  const auto coil = wind(three_layers, 0.1, Sense::left_handed);
  REQUIRE(coil.turns.size() == 23);  // 8 + 8 + 7, the last one half
  CHECK(coil.turns[0].radius == relative(0.0150625, 1e-12));
  CHECK(coil.turns[8].radius == relative(0.0150625 + 0.149e-3, 1e-12));
  CHECK(coil.turns[0].height == relative(0.1 - 3.5 * 0.160e-3, 1e-12));
  CHECK(coil.turns[7].height == relative(0.1 + 3.5 * 0.160e-3, 1e-12));
  CHECK(coil.turns[16].height == relative(0.1 - 3.0 * 0.160e-3, 1e-12));
  CHECK(coil.turns[21].weight == -1.0);
  CHECK(coil.turns[22].weight == relative(-0.5, 1e-12));
  const double length = 2.0 * driftglow::constant::pi * (22.5 * 0.0150625 + (8.0 + 2.0 * 6.5) * 0.149e-3);
  outside.matches("wire length of a winding [m]", coil.wire_length, length, 1e-12);
  // 0.125 mm bare copper weighs 0.1091 g a metre (density 8.89 times the section).
  outside.matches("copper mass of a winding [kg]", coil.copper_mass, length * 0.10910e-3, 1e-4);
  CHECK(coil.axial_length == relative(7 * 0.160e-3 + 0.149e-3, 1e-12));
}

TEST_CASE("an impossible winding is refused") {
  const auto refused = [](auto change) {
    Winding w = three_layers;
    change(w);
    CHECK_THROWS_AS(wind(w, 0.0, Sense::right_handed), driftglow::InputError);
  };
  refused([](Winding& w) { w.pitch = 0.148e-3; });
  refused([](Winding& w) { w.wire.enamelled_diameter = 0.124e-3; });
  refused([](Winding& w) { w.inner_diameter = 0.0; });
  refused([](Winding& w) { w.turns = 0.0; });
  refused([](Winding& w) { w.turns = 1e9; });
  refused([](Winding& w) { w.layers = 0; });
  refused([](Winding& w) { w.layers = 24; });
}
