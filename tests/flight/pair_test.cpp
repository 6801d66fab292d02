#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "models/receiver/steady_state.hpp"
#include "sim/flight/vessels.hpp"
#include "tests/flight/plans.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

// Antiparallel pairs through plan, building and step.
using namespace driftglow;
using namespace driftglow::flight;

namespace {

// One tag held along a uniform field, no tolerances, so that its EMF is known: omega N A B.
Plan held(double flux_density, const std::string& receiver) {
  return short_flight(scenario::parse_scenario(fmt::format(R"(
vessel: {{inner_diameter: 190 mm, height: 320 mm}}
drive: {{field: {{flux_density: {} uT, frequency: 118 kHz}}}}
tags:
  - name: tag
    count: 1
    receiver: {{inner_diameter: 30 mm, turns: 23, layers: 3, wire: 0.125 mm, capacitor: 47 nF{}}}
    fits: [yellow-green, warm-white, yellow-green | warm-white, yellow-green | yellow-green, red | green]
    hold: {{place: [0 mm, 0 mm, 160 mm], axis: [0, 0, 1]}}
flight: {{duration: 1 s}}
)",
                                                           flux_density * 1e6, receiver),
                                               "held"),
                      200);
}

std::vector<FitResult> flown(const Plan& plan, InstructionSet set) {
  Timing timing{};
  return fly_vessels(plan, set, 0, 1, timing, [](std::int64_t) {}).front().designs.front().fits;
}

receiver::OperatingPoint steady(const Plan& plan, int fit, double emf) {
  const DesignPlan& design = plan.designs.front();
  receiver::SteadyStateSolver solver(nominal_tank(*design.tank, design.leds[fit]), plan.omega, 1024);
  return solver.solve(emf).value;
}

}  // namespace

// Solved anew at the tag's EMF with 1024 time steps; 0.2 % as the table of currents promises, single
// precision in the lanes. Both LEDs' light counts, each by its own candela per ampere; the numbers of a fit
// add up.
TEST_CASE("a held pair glows as the circuit says, on every instruction set") {
  const Outside outside("steady state with 1024 steps");
  const double B = 42e-6;
  const Plan plan = held(B, ", threshold_current: 0.2 mA");
  const DesignPlan& design = plan.designs.front();
  CHECK(design.pairs == std::vector<int>{2, 3, 4});
  CHECK(design.slot_count() == 8);
  const double emf = plan.omega * B * design.moments.area_turns;
  for (const InstructionSet set : available_instruction_sets()) {
    const auto fits = flown(plan, set);
    for (int f = 0; f < design.fit_count(); ++f) {
      CAPTURE(design.fits[f]);
      const auto point = steady(plan, f, emf);
      const LedPlan& led = design.leds[f];
      REQUIRE(fits[f].emitter_intensity.size() == (led.antiparallel ? 2 : 1));
      const double first = point.mean_current * led.intensity_per_current;
      const double second =
          led.antiparallel ? point.mean_current_antiparallel * led.antiparallel->intensity_per_current : 0.0;
      outside.matches("mean current of a held pair [A]", fits[f].mean_current,
                      point.mean_current + point.mean_current_antiparallel, 2e-3);
      outside.matches("intensity of a held pair's LEDs [cd]", fits[f].emitter_intensity[0], first, 2e-3);
      if (led.antiparallel)
        outside.near("intensity of a held pair's LEDs [cd]", fits[f].emitter_intensity[1], second,
                     2e-3 * (first + second));
      outside.matches("mean intensity of a held pair [cd]", fits[f].mean_intensity, first + second, 2e-3);
      CHECK(fits[f].duty == 1.0);
    }
    // Equal LEDs: both half waves alike.
    CHECK(fits[3].emitter_intensity[0] == relative(fits[3].emitter_intensity[1], 1e-6));
  }
}

// Without a threshold current the light of both decides: a little below the EMF at which it reaches the
// visible intensity the tag is dark, a little above it is lit.
TEST_CASE("a pair is lit where the light of both reaches the threshold") {
  auto plan = held(42e-6, "");
  const DesignPlan& design = plan.designs.front();
  for (const int f : {2, 3, 4}) {
    const LedPlan& led = design.leds[f];
    const auto& second = led.antiparallel.value();
    const double visible = led.on_mean_current * led.intensity_per_current;
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 40; ++i) {
      const double middle = 0.5 * (low + high);
      const auto point = steady(plan, f, middle);
      (point.mean_current * led.intensity_per_current +
                   point.mean_current_antiparallel * second.intensity_per_current <
               visible
           ? low
           : high) = middle;
    }
    const double B = high / (plan.omega * design.moments.area_turns);
    // 1e-4 is what a threshold's EMF promises.
    CHECK(flown(held(B * 0.9995, ""), InstructionSet::scalar)[f].duty == 0.0);
    CHECK(flown(held(B * 1.0005, ""), InstructionSet::scalar)[f].duty == 1.0);
  }
}

// Both LEDs' own ratings, and the reverse voltage of each, which is the other's forward voltage: the rating
// is passed at the EMF of the first of the six, by bisection on steady states.
TEST_CASE("a pair's ratings are those of both LEDs") {
  const Plan plan = held(42e-6, ", threshold_current: 0.2 mA");
  const DesignPlan& design = plan.designs.front();
  const auto limit = [&](LedPlan led, double emf_max) {
    const auto tank = nominal_tank(*design.tank, led);
    return over_rating_emf(receiver::solve_glow_curve(tank, plan.omega, emf_max), led);
  };
  const double none = 1e3, emf = 1.2;
  const auto point = steady(plan, 2, emf);
  LedPlan led = design.leds[2];
  led.mean_current_rating = led.peak_current_rating = led.reverse_voltage_rating = none;
  auto& second = led.antiparallel.value();
  second.mean_current_rating = second.peak_current_rating = second.reverse_voltage_rating = none;
  CHECK(std::isinf(limit(led, 2.0)));
  const auto with = [&](double LedPlan::*own, double AntiparallelLed::*other, double value) {
    LedPlan changed = led;
    if (own != nullptr) changed.*own = value;
    if (other != nullptr) changed.antiparallel.value().*other = value;
    return limit(changed, 2.0);
  };
  // 0.2 % of a value between the curve's points; a current rises at least in proportion to the EMF there, a
  // clamped voltage by a seventh or more.
  CHECK(with(&LedPlan::mean_current_rating, nullptr, point.mean_current) == relative(emf, 2e-3));
  CHECK(with(&LedPlan::peak_current_rating, nullptr, point.peak_current) == relative(emf, 2e-3));
  CHECK(with(&LedPlan::reverse_voltage_rating, nullptr, point.reverse_peak) == relative(emf, 1.5e-2));
  CHECK(with(nullptr, &AntiparallelLed::mean_current_rating, point.mean_current_antiparallel) ==
        relative(emf, 2e-3));
  CHECK(with(nullptr, &AntiparallelLed::peak_current_rating, point.peak_current_antiparallel) ==
        relative(emf, 2e-3));
  CHECK(with(nullptr, &AntiparallelLed::reverse_voltage_rating, point.forward_peak) == relative(emf, 1.5e-2));
  // The other LED holds the reverse voltage down: alone it would be higher.
  CHECK(steady(plan, 0, emf).reverse_peak > 1.05 * steady(plan, 3, emf).reverse_peak);
}

// Each LED draws its own voltage: the halves of a pair of equal LEDs differ, and the pair's single neighbours
// are drawn as without it.
TEST_CASE("both LEDs of a pair draw their tolerances") {
  const Outside outside("each tag's own glow curve");
  auto scenario = with_pairs(demo());
  for (auto& emitter : scenario.emitters) emitter.mean_current_rating = 1.5e-3;  // to be exceeded
  const Plan plan = short_flight(scenario, 1);
  const DesignPlan& design = plan.designs.front();
  const GlowFamilies& families = plan.families.front();
  CHECK(families.families().size() == 4);
  for (const auto& family : families.families()) CHECK(family.usable());
  double apart = 0.0;
  for (int tag = 0; tag < 6; ++tag) {
    pcg32 stream = random_stream(1, 0, tag, Purpose::build), again = stream;
    const auto fits = families.build(stream);
    const auto solved = build_tag(*design.tank, design.leds, plan.omega, design.linkage_max, again);
    CHECK((stream == again));
    REQUIRE(fits.size() == 4);
    for (const int f : {2, 3}) {
      // As for single LEDs in built_tag_test.cpp.
      outside.matches("threshold linkage of a pair built by family [Wb]",
                      std::sqrt(fits[f].on_linkage_squared), std::sqrt(solved[f].on_linkage_squared), 1e-4);
      CHECK(std::sqrt(fits[f].over_rating_linkage_squared) ==
            relative(std::sqrt(solved[f].over_rating_linkage_squared), 1e-3));
      const auto both = [&](const BuiltFit& fit, std::size_t node) {
        return std::pair(fit.current.nodes()[node], fit.antiparallel_current.value().nodes()[node]);
      };
      const auto most = both(solved[f], CurrentTable::intervals);
      for (std::size_t node = 0; node <= CurrentTable::intervals; ++node) {
        const auto got = both(fits[f], node), own = both(solved[f], node);
        const double scale = std::fmax(own.first + own.second, 0.03 * (most.first + most.second));
        CHECK(std::fabs(got.first - own.first) <= 2e-3 * scale);
        CHECK(std::fabs(got.second - own.second) <= 2e-3 * scale);
      }
      CHECK(fits[f].offset.inductance == fits[0].offset.inductance);
      CHECK(std::fabs(fits[f].offset.antiparallel_voltage) <= design.tank->tolerances.led_voltage);
      CHECK(fits[f].offset.antiparallel_voltage != fits[f].offset.led_voltage);
      // The built pair by itself: where the sum of both currents reaches the threshold.
      receiver::SteadyStateSolver solver(
          receiver::built_design(nominal_tank(*design.tank, design.leds[f]), fits[f].offset), plan.omega,
          1024);
      const auto on = solver.solve(plan.omega * std::sqrt(fits[f].on_linkage_squared));
      const auto weights = design.leds[f].on_weights();
      const double sum = on.value.mean_current + weights.second * on.value.mean_current_antiparallel;
      const double rise = on.slope.mean_current + weights.second * on.slope.mean_current_antiparallel;
      CHECK(std::fabs(std::log(sum / design.leds[f].on_mean_current)) <=
            1e-4 * on.value.emf_peak * rise / sum);
    }
    const auto& halves = fits[3];
    const std::size_t top = halves.current.nodes().size() - 1;
    apart = std::max(apart, std::fabs(std::log(halves.current.nodes()[top] /
                                               halves.antiparallel_current.value().nodes()[top])));
  }
  CHECK(apart > 0.01);
}

// Where the threshold is small against the knee, a second LED of the same kind leaves the tank's voltage
// below it as it is: the light of both reaches the threshold at a lower EMF than that of one. So the duty is
// not less, on the same flights.
TEST_CASE("a pair of equal LEDs is on at least as often as one") {
  auto scenario = with_pairs(demo());
  std::get<scenario::CircuitReceiver>(scenario.tags.front().receiver).threshold_current = 1e-6;
  const Plan plan = short_flight(scenario, 400);
  const auto fits = flown(plan, available_instruction_sets().back());
  CHECK(fits[0].duty > 0.1);
  CHECK(fits[3].duty >= fits[0].duty);
  CHECK(fits[2].duty >= fits[1].duty);
}
