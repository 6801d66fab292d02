#include "sim/flight/built_tag.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <span>
#include <utility>
#include <vector>

#include "models/error.hpp"
#include "models/receiver/led_fit.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {
constexpr double omega = 2.0 * 3.14159265358979323846 * 117.7e3;
const double area_turns = 0.0171;  // m2, N A of the coil below

TankPlan tank(double tolerance) {
  return {39.2e-6, 3.13, 47e-9, 0.001, {tolerance, tolerance, 50e-3 * (tolerance > 0.0)}};
}

LedPlan led(double higher = 0.0) {
  const std::pair<double, double> points[] = {{1e-5, 1.65 + higher},
                                              {2e-4, 1.80 + higher},
                                              {1e-3, 1.89 + higher},
                                              {5e-3, 2.00 + higher},
                                              {2e-2, 2.18 + higher}};
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

const double most = 100e-6 * area_turns;  // Wb

GlowFamilies solved(const TankPlan& tank, const std::vector<LedPlan>& leds, int threads,
                    double linkage_max = most) {
  std::vector<GlowFamilies> designs{GlowFamilies(tank, leds, omega, linkage_max)};
  CHECK(solve_all(designs, threads) == parallel::Outcome::finished);
  return designs.front();
}

pcg32 stream_of(int tag) {
  return random_stream(1, 0, tag, Purpose::build);
}
}  // namespace

TEST_CASE("the table of currents follows the glow curve, the limits are the curve's") {
  const Outside outside("the glow curve");
  pcg32 stream = random_stream(1, 0, 0, Purpose::build);
  const auto fit = build_tag(tank(0.0), {led()}, omega, most, stream).front();
  const auto curve = receiver::solve_glow_curve(nominal_tank(tank(0.0), led()), omega, omega * most);
  outside.matches("threshold EMF of a built tag [V]", std::sqrt(fit.on_linkage_squared) * omega,
                  curve.threshold_emf(2e-4), 1e-12);
  // What is left of 256 straight lines at the threshold, a twentieth of the top.
  for (double linkage = std::sqrt(fit.on_linkage_squared); linkage < most; linkage *= 1.037) {
    outside.matches("current of a built tag by table [A]", fit.current.at(linkage),
                    curve.mean_current(omega * linkage), 2e-3);
  }
  CHECK(fit.current.at(2.0 * most) == fit.current.at(most));
  CHECK(fit.current.at(0.0) == 0.0);
  const double over = over_rating_emf(curve, led());
  CHECK(curve.mean_current(over) == relative(1.5e-3, 1e-6));
}

// Uniform tolerances of 5 % and 50 mV: thresholds of built tags scatter about the nominal one to both sides;
// without tolerance all are the same; the same stream builds the same tag.
TEST_CASE("built tags scatter within their tolerances and can be built again") {
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

// The tags' own glow curves, by build_tag from the same stream: thresholds within the 1e-4 that both promise;
// currents within 0.2 % of 3 % of the top at least, as the curve's own points are joined.
TEST_CASE("families build the tags that their own curves give") {
  const Outside outside("each tag's own glow curve");
  const std::vector<LedPlan> leds{led(), led(0.9)};
  const GlowFamilies families = solved(tank(0.02), leds, 1);
  for (const auto& family : families.families()) CHECK(family.usable());
  for (int i = 0; i < 12; ++i) {
    pcg32 stream = stream_of(i), again = stream_of(i);
    const auto got = families.build(stream), own = build_tag(tank(0.02), leds, omega, most, again);
    CHECK((stream == again));
    REQUIRE(got.size() == 2);
    for (int fit = 0; fit < 2; ++fit) {
      outside.matches("threshold linkage of a tag built by family [Wb]",
                      std::sqrt(got[fit].on_linkage_squared), std::sqrt(own[fit].on_linkage_squared), 1e-4);
      outside.matches("rating's linkage of a tag built by family [Wb]",
                      std::sqrt(got[fit].over_rating_linkage_squared),
                      std::sqrt(own[fit].over_rating_linkage_squared), 1e-3);
      const auto &a = got[fit].current, &b = own[fit].current;
      CHECK(a.nodes_per_linkage() == b.nodes_per_linkage());
      REQUIRE(a.nodes().size() == b.nodes().size());
      for (std::size_t k = 0; k < a.nodes().size(); ++k) {
        outside.near("current nodes of a tag built by family [A]", a.nodes()[k], b.nodes()[k],
                     2e-3 * std::fmax(b.nodes()[k], 0.03 * b.nodes().back()));
      }
    }
  }
}

TEST_CASE("families are the same on any number of threads, and so are their tags") {
  const std::vector<LedPlan> leds{led(), led(0.9)};
  const GlowFamilies one = solved(tank(0.05), leds, 1);
  for (const int threads : {2, 7}) {
    const GlowFamilies more = solved(tank(0.05), leds, threads);
    for (int i = 0; i < 20; ++i) {
      pcg32 stream = stream_of(i), again = stream_of(i);
      const auto a = one.build(stream), b = more.build(again);
      for (int fit = 0; fit < 2; ++fit) {
        CHECK(a[fit].on_linkage_squared == b[fit].on_linkage_squared);
        CHECK(a[fit].over_rating_linkage_squared == b[fit].over_rating_linkage_squared);
        CHECK(std::equal(a[fit].current.nodes().begin(), a[fit].current.nodes().end(),
                         b[fit].current.nodes().begin(), b[fit].current.nodes().end()));
      }
    }
  }
}

// 30 % on L and C of a tank of Q 37, and 1 V of LED voltage: the families give up, the tags are solved
// singly.
TEST_CASE("too wide tolerances are solved tag by tag") {
  TankPlan wide = tank(0.2);
  wide.inductance *= 8.0;
  wide.capacitance /= 8.0;
  wide.resistance *= 2.0;
  wide.tolerances = {0.3, 0.3, 1.0};
  const GlowFamilies families = solved(wide, {led()}, 2);
  CHECK_FALSE(families.families().front().usable());
  pcg32 stream = stream_of(3), again = stream_of(3);
  CHECK(families.build(stream).front().on_linkage_squared ==
        build_tag(wide, {led()}, omega, most, again).front().on_linkage_squared);
}

TEST_CASE("families that are not solved build nothing; a stop leaves them so") {
  std::vector<GlowFamilies> designs{GlowFamilies(tank(0.02), {led()}, omega, most)};
  pcg32 stream = stream_of(0);
  CHECK_THROWS_AS(designs.front().build(stream), LogicError);
  std::stop_source source;
  source.request_stop();
  CHECK(solve_all(designs, 2, source.get_token()) == parallel::Outcome::stopped);
  CHECK_FALSE(designs.front().finished());
}

// Straight lines against the curve between the nodes, at an LED that comes on at a third of the largest EMF,
// as the demo's do. Measured there, largest miss of the current from 3 % of the top on: 128 intervals 2.2e-3,
// 256 5.5e-4, 512 1.4e-4 (without the nodes' correction 2.6e-3, 7.6e-4, 2.2e-4); mean miss over the mean
// 2e-7, 2e-8 and 2e-9 (without 1.4e-5, 3.5e-6, 9e-7). At a sixth, 256: 1.7e-3 of the current from the
// threshold on. Bound: the 0.2 % that is wanted, at the lowest currents 0.2 % of 3 % of the top.
TEST_CASE("256 intervals are enough") {
  const double third = 0.57 * most;
  const GlowFamilies families = solved(tank(0.02), {led()}, 1, third);
  pcg32 stream = stream_of(5), again = stream_of(5);
  const auto fit = families.build(stream).front();
  const double inductance = 0.02 * (2.0 * uniform(again) - 1.0),
               capacitance = 0.02 * (2.0 * uniform(again) - 1.0);
  const auto curve =
      families.families().front().at({inductance, capacitance, 50e-3 * (2.0 * uniform(again) - 1.0)});
  const double top = fit.current.at(third);
  CHECK(curve.on_emf() / (omega * third) > 0.3);
  CHECK(curve.on_emf() / (omega * third) < 0.4);
  double sum = 0.0, misses = 0.0;
  for (int i = 1; i < 20000; ++i) {
    const double linkage = third * i / 20000, exact = curve.mean_current_at_log(std::log(omega * linkage));
    const double miss = fit.current.at(linkage) - exact;
    CHECK(std::fabs(miss) <= 2e-3 * std::fmax(exact, 0.03 * top));
    misses += miss;
    sum += exact;
  }
  CHECK(std::fabs(misses) <= 1e-6 * sum);
}

// Issue 3: set-up of hundreds of replicates must be negligible; 20 us a built tag and fit. The bound is loose
// (debug and sanitised builds, shared cores).
TEST_CASE("built tags are cheap") {
  const GlowFamilies families = solved(tank(0.02), {led(), led(0.9)}, 1);
  const auto start = std::chrono::steady_clock::now();
  constexpr int tags = 200;
  double sum = 0.0;
  for (int i = 0; i < tags; ++i) {
    pcg32 stream = stream_of(i);
    sum += families.build(stream).front().on_linkage_squared;
  }
  const double each =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count() / (2.0 * tags);
  MESSAGE("built tag and fit: " << 1e6 * each << " us (mean square " << sum / tags << ")");
  CHECK(each < 2e-3);
}
