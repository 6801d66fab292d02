#include "models/motion/advance.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "tests/air/designs.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::motion;

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
