#include "models/coil/coil_map.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "models/coil/series_circuit.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/coil/demo_coils.hpp"
#include "tests/outside.hpp"

using namespace driftglow::coil;

namespace {
double largest_error(const CoilMap& map, const std::vector<Turn>& turns, Reach reach) {
  std::mt19937_64 engine(99);  // other points than the map's own probes
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  double worst = 0.0;
  for (int i = 0; i < 5000; ++i) {
    const double r = reach.radius * std::sqrt(uniform(engine));
    const double z = reach.low + (reach.high - reach.low) * uniform(engine);
    const auto want = field_of(turns, r, z);
    const auto got = map.field(r, z);
    const double error = std::hypot(r * (got.radial_over_r - want.radial_over_rho), got.axial - want.axial);
    worst = std::fmax(worst, error / map.reference(std::hypot(r * want.radial_over_rho, want.axial)));
  }
  return worst;
}
}  // namespace

// Tolerance: the 1e-4 of |B| that the issue asks for; `error()` is a largest of many probes and may be beaten
// a little by others.
TEST_CASE("the map reaches its error and says which") {
  const auto demo = demo_turns(Sense::right_handed), opposed = demo_turns(Sense::left_handed),
             hard = hard_turns();
  for (const auto* turns : {&demo, &opposed, &hard}) {
    const auto map = CoilMap::computed(*turns, demo_extent, demo_reach, 1);
    const double worst = largest_error(map, *turns, demo_reach);
    MESSAGE("nodes ", map.r().nodes, " x ", map.z().nodes, ", error stored ", map.error(), ", found ", worst);
    CHECK(map.error() <= 1e-4);
    CHECK(worst <= 1e-4);
    CHECK(worst <= 2.0 * map.error());
  }
}

// On its axis a turn has the field mu0 a^2/(2 d^3), d^2 = a^2 + z^2, by Biot and Savart; its slope is that
// times -3 z/d^2, and as no flux is lost B_r/r there is half of the slope, with its sign turned. Tolerances:
// the map's error as asked for, and for a slope that over a sixtieth of the coil's radius.
TEST_CASE("the map on the axis of one turn, with its slopes") {
  const Outside outside("Biot-Savart on a turn's axis; div B = 0");
  constexpr double a = 0.12, centre = 0.1;
  const std::vector<Turn> turn{{a, centre, 1.0}};
  const auto map = CoilMap::computed(turn, demo_extent, demo_reach, 1);
  for (const double place : {0.03, 0.07, 0.1, 0.16, 0.25}) {
    const double z = place - centre, d2 = a * a + z * z;
    const double field = 0.5 * driftglow::constant::mu_0 * a * a / std::pow(d2, 1.5),
                 slope = -3.0 * z / d2 * field;
    const auto at = map.jets(0.0, place);
    outside.near("B on a turn's axis [T/A]", at.axial.f, field, 2e-5 * field);
    outside.near("slope of B along a turn's axis [T/(A m)]", at.axial.fy, slope, 2e-5 * field / (a / 60.0));
    outside.near("slope of B along the radius on the axis [T/(A m)]", at.axial.fx, 0.0,
                 2e-5 * field / (a / 60.0));
    outside.near("B_r/r on a turn's axis [T/(A m)]", at.radial_over_r.f, -0.5 * slope,
                 2e-5 * field / (a / 60.0));
  }
}

// Stored output of our own: regression only.
TEST_CASE("a map from stored values is the same map") {
  const auto map = CoilMap::computed(demo_turns(Sense::right_handed), demo_extent, demo_reach, 1, 1e-3);
  const CoilMap again(map.r(), map.z(), map.radial_over_r(), map.axial(), map.error(),
                      map.rms_flux_density());
  for (const double r : {0.0, 0.033, 0.08}) {
    const auto a = map.field(r, 0.1234), b = again.field(r, 0.1234);
    CHECK(a.radial_over_r == b.radial_over_r);
    CHECK(a.axial == b.axial);
  }
}

TEST_CASE("faults") {
  const std::vector<Turn> inside{{0.09, 0.1, 1.0}};
  CHECK_THROWS_AS(CoilMap::computed(inside, demo_extent, demo_reach, 1), driftglow::InputError);
  const std::vector<Turn> outside{{0.12, 0.1, 1.0}};
  CHECK_THROWS_AS(CoilMap::computed(outside, demo_extent, Reach{0.1, 0.0, 0.3}, 1), driftglow::LogicError);
}
