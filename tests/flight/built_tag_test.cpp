#include "sim/flight/built_tag.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "models/receiver/led_fit.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {
constexpr double omega = 2.0 * 3.14159265358979323846 * 117.7e3;
const double area_turns = 0.0171;  // m2, N A of the coil below

TankPlan tank(double tolerance) {
  return {39.2e-6, 3.13, 47e-9, 0.001, {tolerance, tolerance, 50e-3 * (tolerance > 0.0)}};
}

LedPlan led() {
  const std::pair<double, double> points[] = {
      {1e-5, 1.65}, {2e-4, 1.80}, {1e-3, 1.89}, {5e-3, 2.00}, {2e-2, 2.18}};
  return {"yellow-green",
          "yellow-green",
          receiver::fit_led(points, {25.0, 50e-9}, 293.15).law,
          0.0,
          40e-12,
          2e-4,
          3.0,
          1.5e-3,
          80e-3,
          5.0};
}
}  // namespace

TEST_CASE("the table of currents follows the glow curve, the limits are the curve's") {
  pcg32 stream = random_stream(1, 0, 0, Purpose::build);
  const double most = 100e-6 * area_turns;
  const auto fit = build_tag(tank(0.0), {led()}, omega, most, stream).front();
  const auto curve = receiver::solve_glow_curve(nominal_tank(tank(0.0), led()), omega, omega * most);
  CHECK(std::sqrt(fit.on_linkage_squared) * omega == relative(curve.threshold_emf(2e-4), 1e-12));
  // Straight lines between 512 nodes; the curve's own accuracy between its points is 0.2 %.
  for (double linkage = std::sqrt(fit.on_linkage_squared); linkage < most; linkage *= 1.037) {
    CHECK(fit.current.at(linkage) == relative(curve.mean_current(omega * linkage), 2e-3));
  }
  CHECK(fit.current.at(2.0 * most) == fit.current.at(most));
  CHECK(fit.current.at(0.0) == 0.0);
  const double over = over_rating_emf(curve, led());
  CHECK(curve.mean_current(over) == relative(1.5e-3, 1e-6));
}

// Uniform tolerances of 5 % and 50 mV: thresholds of built tags scatter about the nominal one to both sides;
// without tolerance all are the same; the same stream builds the same tag.
TEST_CASE("built tags scatter within their tolerances and can be built again") {
  const double most = 100e-6 * area_turns;
  double low = 1e9, high = 0.0;
  for (int i = 0; i < 30; ++i) {
    pcg32 stream = random_stream(1, 0, i, Purpose::build), again = random_stream(1, 0, i, Purpose::build);
    const double on =
        std::sqrt(build_tag(tank(0.05), {led()}, omega, most, stream).front().on_linkage_squared);
    CHECK(on == std::sqrt(build_tag(tank(0.05), {led()}, omega, most, again).front().on_linkage_squared));
    low = std::min(low, on);
    high = std::max(high, on);
  }
  pcg32 stream = random_stream(1, 0, 0, Purpose::build);
  const double nominal =
      std::sqrt(build_tag(tank(0.0), {led()}, omega, most, stream).front().on_linkage_squared);
  CHECK(low < nominal);
  CHECK(high > 1.05 * nominal);
}

TEST_CASE("a field too weak to light a tag gives an infinite threshold") {
  pcg32 stream = random_stream(1, 0, 0, Purpose::build);
  const auto fit = build_tag(tank(0.0), {led()}, omega, 5e-6 * area_turns, stream).front();
  CHECK(fit.on_linkage_squared == std::numeric_limits<double>::infinity());
}
