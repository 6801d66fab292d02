#include "models/motion/advance.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/air/designs.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::motion;

// Near the axis of a swirl the air turns as a solid body at rate u_theta/r: a tracer turns with half the
// curl, which there is that rate (Stokes' theorem). Without turbulence the seen air is the mean air.
TEST_CASE("a tracer turns with half the curl of the air") {
  auto design = plain_design();
  design.flow = design.circulation = 0.0;
  design.turbulence_intensity = design.turbulence_floor = 0.0;
  const air::Column column(design);
  const auto map = air::map_of(column);
  Body body{};
  const BodyTerms terms(body, {1.2, 1.8e-5});
  const Vec3<double> none{0.0, 0.0, 0.0};
  TagState<double> tag{{{1e-4, 0.0, 0.16}, none, none}, {1.0, 0.0, 0.0}, none, none, none, none};
  advance_tracer(terms, map.sample(place_ahead(tag.move, 1e-3)), 1e-3, none, none, tag);
  // The map's own error in velocity is 1e-3.
  CHECK(tag.move.omega_W.z == relative(column.turn_rate(0.0, 0.16), 5e-3));
  CHECK(tag.n_W.y == relative(std::sin(1e-3 * tag.move.omega_W.z), 1e-6));
}
