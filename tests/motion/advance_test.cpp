#include "models/motion/advance.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "tests/air/designs.hpp"
#include "tests/motion/cage.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::motion;

namespace {
constexpr AirProperties round_air{1.2, 1.8e-5};
}

// Near the axis of a swirl the air turns as a solid body at rate u_theta/r: a tracer turns with half the
// curl, which there is that rate (Stokes' theorem). Without turbulence the seen air is the mean air.
TEST_CASE("a tracer turns with half the curl of the air") {
  const Outside outside("Stokes' theorem near the axis of a swirl");
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
  outside.matches("turn rate of a tracer [1/s]", tag.move.omega_W.z, column.turn_rate(0.0, 0.16), 5e-3);
  outside.matches("angle of a tracer after a step [rad]", tag.n_W.y, std::sin(1e-3 * tag.move.omega_W.z),
                  1e-6);
}

// A share of 1/4 left of the gusts' energy: half the deviation, four times the memory, so that sigma^2 T, the
// spreading over long times, stays. Standard errors of 4e5 steps with a memory of 40: variance 1.4 %,
// autocorrelation at one memory 1 %; five of them.
TEST_CASE("gusts averaged over a tag are weaker and last longer") {
  const Outside outside("a quarter of the energy at four times the memory, 5 standard errors");
  BodyTerms terms(Body{}, {1.2, 1.8e-5});
  terms.gust_share = 0.25;
  const Vec3<double> none{0.0, 0.0, 0.0};
  const air::AirSample<double> air{none, none, 0.3, none, 100.0, 0.0};
  TagState<double> tag{{none, none, none}, {1.0, 0.0, 0.0}, none, none, none, none};
  std::mt19937 random(1);
  std::normal_distribution<double> normal(0.0, 1.0);
  constexpr int steps = 400000, memory = 40;
  const double dt = 1e-3;
  std::vector<double> u;
  for (int i = 0; i < steps; ++i)
    u.push_back(see(terms, air, 0.0, dt, {normal(random), 0.0, 0.0}, none, tag).u_W.x);
  double variance = 0.0, product = 0.0;
  for (int i = 0; i < steps; ++i) {
    variance += u[i] * u[i] / steps;
    if (i + memory < steps) product += u[i] * u[i + memory] / steps;
  }
  outside.matches("variance of averaged gusts [m2/s2]", variance, 0.25 * 0.09, 0.07);
  outside.near("autocorrelation of averaged gusts after one memory", product / variance, std::exp(-1.0),
               0.05);
}

// Thrown in hardly any air the way is a parabola, which the step keeps exactly.
TEST_CASE("a tag in thin air falls along a parabola") {
  const Outside outside("free fall, by hand");
  const Body body = cage();
  const BodyTerms terms(body, {1e-12, 1.8e-5});
  const Enclosure vessel{1.0, 10.0};
  const Vec3<double> none{0.0, 0.0, 0.0};
  const air::AirSample<double> still{none, none, 0.0, none, 0.0, 0.0};
  TagState<double> tag{{{0.0, 0.0, 5.0}, {0.5, 0.0, 1.0}, none}, {0.0, 0.0, 1.0}, none, none, none, none};
  for (int i = 0; i < 100; ++i)
    advance_solid<DragLaw::fixed, WallLift::off>(body, terms, vessel, still, 1e-3, none, none, tag);
  outside.matches("way of a thrown tag [m]", tag.move.p_W.x, 0.05, 1e-9);
  outside.matches("height of a thrown tag [m]", tag.move.p_W.z, 5.0 + 0.1 - 0.5 * 9.80665 * 0.01, 1e-9);
}

// The acceleration of a step is that of its middle: a tag that spins by 0.2 rad in a step has its axis 0.1
// rad on.
TEST_CASE("forces of a step are those at its middle's axis") {
  const Outside outside("drag of a cage at the axis half a step on, by hand");
  const Body body = cage();
  const BodyTerms terms(body, round_air);
  const Vec3<double> none{0.0, 0.0, 0.0};
  const double spin = 200.0, dt = 1e-3;
  const air::AirSample<double> wind{{2.0, 0.0, 0.0}, none, 0.0, none, 0.0, 0.0};
  TagState<double> tag{
      {none, none, {0.0, spin, 0.0}}, {std::sqrt(0.5), 0.0, std::sqrt(0.5)}, none, none, none, none};
  advance_solid<DragLaw::fixed, WallLift::off>(body, terms, {1.0, 10.0}, wind, dt, none, none, tag);
  // Turning about y takes z towards x: the angle from z is 45 degrees and 0.1 rad.
  const double angle = 0.25 * std::numbers::pi + 0.5 * dt * spin;
  const double pressure = 0.5 * round_air.density * 2.0 * 2.0;
  const double across = pressure * (body.area_along - body.area_across) * std::sin(angle) * std::cos(angle);
  const auto lift = air_load<DragLaw::fixed>(body, terms, wind.u_W, {0.0, 0.0, 1.0}, {0.0, -spin, 0.0});
  outside.matches("acceleration across the wind [m/s2]", tag.acceleration_W.z + 9.80665,
                  (across + lift.force_W.z) / body.mass, 1e-3);
}
