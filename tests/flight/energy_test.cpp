#include "sim/flight/energy.hpp"

#include <doctest/doctest.h>

#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "models/driver/losses.hpp"
#include "sim/flight/vessels.hpp"
#include "tests/flight/plans.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {

Plan ready(const scenario::Scenario& scenario) {
  Plan plan = plan_of(scenario);
  solve_all(plan.families, 2);
  return plan;
}

std::vector<ReplicateResult> flown(const Plan& plan, int replicates) {
  std::vector<ReplicateResult> results;
  Timing timing{};
  for (int i = 0; i < replicates; ++i)
    results.push_back(fly_vessels(plan, InstructionSet::scalar, i, 1, timing, [](std::int64_t) {}).front());
  return results;
}

// Tags without tolerances, turned at random at one place of the demo's field.
scenario::Scenario held(const std::string& field) {
  return scenario::parse_scenario(R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: )" + field + R"(
air: {flow_rate: 0.07 m3/s}
tags:
  - name: turned
    count: 6
    receiver: {inner_diameter: 26 mm, turns: 32, layers: 2, wire: 0.112 mm, capacitor: 33 nF,
      tolerances: {inductance: 0 %, capacitance: 0 %, led_voltage: 0 mV}}
    fits: [yellow-green]
    hold: {place: [0 mm, 0 mm, 160 mm]}
flight: {duration: 20 s, warmup: 0 s}
)",
                                  "held");
}

const std::string uniform_field = "{field: {flux_density: 60 uT, frequency: 118 kHz}}";

}  // namespace

// Independent method: the mean over the sphere of the glow curve's powers by quadrature. The flight takes 400
// samples of 6 tags: cos(angle)^2 spreads by 0.3, so 0.3/sqrt(2400)/0.33 = 1.8 % a standard error.
TEST_CASE("tags turned at random draw the mean over the sphere") {
  const Outside outside("Gauss-Legendre quadrature over the sphere");
  const Plan plan = ready(held(uniform_field));
  const auto result = flown(plan, 1).front();
  REQUIRE(result.ledger);
  const DesignPlan& design = plan.designs.front();
  const double most = plan.omega * 60e-6 * design.moments.area_turns;
  const auto mean = [&](double receiver::OperatingPoint::*power) {
    return 6.0 * boost::math::quadrature::gauss<double, 30>::integrate(
                     [&](double cosine) { return design.curves.front().at(most * cosine).*power; }, 0.0, 1.0);
  };
  constexpr double five_errors = 0.09;
  outside.matches("power of turning tags [W]", result.ledger->input,
                  mean(&receiver::OperatingPoint::real_power), five_errors);
  outside.matches("heat of turning tags' coils [W]", result.ledger->tag_coils,
                  mean(&receiver::OperatingPoint::coil_loss), five_errors);
  outside.matches("power of turning tags' LEDs [W]", result.ledger->tag_leds,
                  mean(&receiver::OperatingPoint::led_power), five_errors);
  CHECK(result.ledger->source == EnergySource::field);
  CHECK(result.ledger->copper == 0.0);
  CHECK(result.ledger->tag_leds > 0.1 * result.ledger->input);
}

// Conservation. What is left is the error of the tags' wave forms, below 1e-6 (tests/receiver).
TEST_CASE("every kind of drive keeps its balance") {
  const Outside outside("conservation of energy");
  const std::string coils =
      R"(coils: [{name: one, height: 160 mm, inner_diameter: 250 mm, turns: 20, wire: 1 mm,
    pitch: 2.5 mm}]})";
  for (const std::string& field :
       {uniform_field,
        "{driver: {kind: current_fed_push_pull, supply: 24 V, drop: 0.8 V, capacitor: 12 nF, chokes: two, "
        "choke_inductance: 470 uH, tolerances: {inductance: 3 %, capacitance: 3 %}}, " +
            coils,
        "{driver: {kind: voltage_fed_series, bridge: half, supply: 24 V, switch_resistance: 50 mohm, "
        "capacitor: "
        "12 nF}, " +
            coils,
        "{driver: {kind: given_current, current: 1 A, frequency: 118 kHz}, " + coils}) {
    CAPTURE(field);
    for (const auto& result : flown(ready(held(field)), 3)) {
      REQUIRE(result.ledger);
      CHECK(result.ledger->input > 0.0);
      CHECK(result.ledger->tag_coils > 0.0);
      outside.below("energy missing or too much, of a kind of drive", result.ledger->violation(), 1e-6);
    }
  }
}

// The demo flies, collides and has tolerances of tags and tank; metal and two circuits are in the other.
TEST_CASE("flights of the examples keep their balance") {
  const Outside outside("conservation of energy");
  for (const std::string name : {"plankton_column.yaml", "turning_field.yaml", "single_axis.yaml"}) {
    CAPTURE(name);
    auto scenario = scenario::read_scenario(config(name));
    scenario.flight.warmup = 0.2;
    scenario.flight.duration = 1.0;
    for (const auto& result : flown(ready(scenario), 2)) {
      REQUIRE(result.ledger);
      CHECK(result.ledger->source == EnergySource::supply);
      outside.below("energy missing or too much, of a flight", result.ledger->violation(), 1e-6);
    }
  }
}

TEST_CASE("a ledger tells what is missing") {
  Ledger ledger{EnergySource::supply, 10.0, 8.0, 0.5, 0.25, 0.5, 0.5, 0.0625, 0.1875};
  CHECK(ledger.violation() == 0.0);
  ledger.copper = 8.5;
  CHECK(ledger.violation() == relative(0.05, 1e-12));
  for (const auto& term : ledger_terms()) {
    Ledger one{};
    one.*term.value = 2.0;
    CHECK(one.violation() == (term.value == &Ledger::input ? 1.0 : 2.0));
  }
}

TEST_CASE("a drive's losses grow with the square of its current") {
  const DrivePower one{EnergySource::supply, 10.0, 6.0, 1.5, 0.5, 2.0, 1.25}, more = one.at_current(1.1);
  for (const auto term : {&DrivePower::input, &DrivePower::copper, &DrivePower::metal, &DrivePower::capacitor,
                          &DrivePower::switches})
    CHECK(more.*term == relative(1.1 * 1.1 * one.*term, 1e-14));
  CHECK(more.input_per_drawn == one.input_per_drawn);
}

// What the driver's supply gives against the sum of losses() with the tags' power inside.
TEST_CASE("tags' power passes the drop of a push-pull driver") {
  const driver::CurrentFedPushPull push_pull{24.0, 0.8, 12e-9, 0.0, driver::Chokes::ideal, 0.0, {}, {}, {}};
  CHECK(driver::supply_for(push_pull, 2.32) == relative(2.4, 1e-12));
  const DrivePower drive{EnergySource::supply, 12.0, 11.6, 0.0, 0.0, 0.4, 24.0 / 23.2};
  const Ledger ledger = balance(drive, {2.32, 2.0, 0.02, 0.3});
  CHECK(ledger.input == relative(14.4, 1e-12));
  CHECK(ledger.switches == relative(0.48, 1e-12));
  CHECK(ledger.violation() < 1e-12);
  CHECK(balance(drive.at_current(0.5), {}).input == relative(3.0, 1e-12));
}

// A lost tag draws nothing from then on; a plain threshold has no circuit to draw by.
TEST_CASE("without coils and circuits there is no ledger") {
  auto scenario = scenario::read_scenario(config("check_uniform_field.yaml"));
  scenario.flight.duration = 0.2;
  scenario.flight.warmup = 0.0;
  CHECK_FALSE(flown(ready(scenario), 1).front().ledger);
}
