#include "sim/flight/plan.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "models/receiver/capacitor_class.hpp"
#include "sim/flight/random.hpp"
#include "sim/flight/start.hpp"
#include "tests/flight/plans.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {

Plan with_receiver(const std::string& keys, const std::string& ambient = "20 degC") {
  return plan_of(scenario::parse_scenario(fmt::format(R"(
ambient: {{temperature: {}}}
vessel: {{inner_diameter: 190 mm, height: 320 mm}}
drive: {{field: {{flux_density: 42 uT, frequency: 100 kHz}}}}
tags:
  - name: tag
    count: 1
    receiver: {{inner_diameter: 30 mm, turns: 23, layers: 3, wire: 0.125 mm, capacitor: 47 nF{}}}
    fits: [yellow-green, warm-white]
    hold: {{place: [0 mm, 0 mm, 160 mm], axis: [0, 0, 1]}}
flight: {{duration: 1 s}}
)",
                                                      ambient, keys),
                                          "text"));
}

const TankPlan& tank_of(const Plan& plan) {
  return plan.designs.front().tank.value();
}

double capacitance_of(const Plan& plan, int fit) {
  return nominal_tank(tank_of(plan), plan.designs.front().leds[fit]).capacitance;
}

}  // namespace

// Values at 100 kHz and 20 degC as capacitor_class.hpp states them, by hand. C0G: 0 +- 30 ppm/K from 25 degC,
// so +- 150 ppm on parts that are up to 5 % off. Polypropylene: -200 +- 100 ppm/K about 20 degC: nothing
// there.
TEST_CASE("capacitor classes give the built tags their loss and tolerance") {
  const Outside outside("IEC/EIA classes by hand");
  const Plan plain = with_receiver("");
  CHECK(tank_of(plain).loss_tangent == 0.001);
  CHECK(tank_of(plain).tolerances.capacitance == 0.0);
  CHECK(capacitance_of(plain, 0) == 47e-9);

  const Plan class_1 = with_receiver(", capacitor_class: C0G");
  CHECK(tank_of(class_1).loss_tangent ==
        receiver::loss_tangent(receiver::Dielectric::class_1_ceramic, 1e5).typical);
  CHECK(tank_of(class_1).loss_tangent <= 0.001);
  outside.matches("tolerance of a class 1 capacitor", tank_of(class_1).tolerances.capacitance,
                  0.05015 / (1.0 + 0.05 * 150e-6), 1e-9);
  outside.matches("capacitance of a class 1 capacitor [F]", capacitance_of(class_1, 0),
                  47e-9 * (1.0 + 0.05 * 150e-6), 1e-12);
  CHECK(capacitance_of(class_1, 1) == capacitance_of(class_1, 0));

  const Plan film = with_receiver(", capacitor_class: polypropylene");
  CHECK(tank_of(film).loss_tangent ==
        receiver::loss_tangent(receiver::Dielectric::polypropylene, 1e5).typical);
  CHECK(tank_of(film).tolerances.capacitance == relative(0.05, 1e-12));
  CHECK(capacitance_of(film, 0) == relative(47e-9, 1e-12));
  const Plan warm = with_receiver(", capacitor_class: polypropylene", "40 degC");
  // From 0.95 x 0.994 to 1.05 x 0.998.
  outside.matches("capacitance of a warm film capacitor [F]", capacitance_of(warm, 0),
                  47e-9 * 0.5 * (0.9443 + 1.0479), 1e-12);
  CHECK(tank_of(warm).tolerances.capacitance == relative((1.0479 - 0.9443) / (1.0479 + 0.9443), 1e-9));

  const Plan polyester = with_receiver(", capacitor_class: polyester");
  CHECK(tank_of(polyester).loss_tangent > 10.0 * tank_of(film).loss_tangent);

  // What is given wins.
  const Plan own =
      with_receiver(", capacitor_class: polyester, loss_tangent: 0.7 %, tolerances: {capacitance: 1 %}");
  CHECK(tank_of(own).loss_tangent == 0.007);
  CHECK(tank_of(own).tolerances.capacitance == relative(0.01, 1e-12));
}

// Class 2 loses by the voltage that lights each fit: (1 + (v/V0)^2)^(-1/3), V0 such that half is left at the
// rated voltage, V0 = rated/sqrt(7). For a small amplitude v the fundamental charge takes the mean of v^2
// sin^2 cos^2 over sin^2, v^2/4: a loss of (v/V0)^2/12. By hand for 50 V: 1.9 V gives 0.084 %; the next term
// is (v/V0)^4/36, a thousandth of that. 10 % parts that change by up to 15 % are from 0.9 x 0.85 to
// 1.1 x 1.15, so 1.015 in the middle. At 4 V, where the model's own quadrature is, both must differ.
TEST_CASE("class 2 loses by the voltage of each fit's LED") {
  const Outside outside("series of the class 2 law by hand");
  const Plan usual = with_receiver(", capacitor_class: X7R"),
             same = with_receiver(", capacitor_class: X7R, capacitor_rated_voltage: 50 V"),
             low = with_receiver(", capacitor_class: X7R, capacitor_rated_voltage: 6.3 V");
  CHECK(tank_of(usual).tolerances.capacitance == relative(0.25 / 1.015, 1e-12));
  CHECK(tank_of(usual).loss_tangent ==
        receiver::loss_tangent(receiver::Dielectric::class_2_ceramic, 1e5).typical);
  const double middle = 1.015 * 47e-9;
  for (int fit = 0; fit < 2; ++fit) {
    const LedPlan& led = usual.designs.front().leds[fit];
    const double v = led.law.forward_voltage(led.on_mean_current) * std::sqrt(7.0) / 50.0;
    outside.matches("class 2 loss by the LED's voltage", 1.0 - capacitance_of(usual, fit) / middle,
                    v * v / 12.0, 1e-2);
    CHECK(capacitance_of(same, fit) == capacitance_of(usual, fit));
    CHECK(capacitance_of(low, fit) < 0.97 * middle);
  }
  CHECK(capacitance_of(low, 1) < 0.99 * capacitance_of(low, 0));
}

// Offsets of built tags are spread over the class's tolerance.
TEST_CASE("built tags draw within the class's tolerance") {
  Plan plan = with_receiver(", capacitor_class: X7R");
  solve_all(plan.families, 2);
  double largest = 0.0;
  for (int tag = 0; tag < 60; ++tag) {
    pcg32 stream = random_stream(1, 0, tag, Purpose::build);
    largest = std::max(largest, std::fabs(plan.families.front().build(stream).front().offset.capacitance));
  }
  CHECK(largest <= 0.25);
  CHECK(largest > 0.2);  // probability 1 - 0.8^60
}

// f and I of a built push-pull tank, closed form (tests/driver): all tags of a replicate share one draw,
// which is of that replicate alone.
TEST_CASE("the drive's tolerances are drawn once a replicate") {
  const Outside outside("uniform tolerances, closed form");
  auto scenario = demo();
  auto& coils = std::get<scenario::CoilDrive>(scenario.drive);
  coils.tolerances = {0.03, 0.05};
  for (auto& tag : scenario.tags) {
    auto& receiver = std::get<scenario::CircuitReceiver>(tag.receiver);
    receiver.tolerances = {0.0, 0.0, 0.0};
  }
  const Plan plan = short_flight(scenario, 1);
  REQUIRE(plan.built_drive);
  double sum = 0.0, square = 0.0, lowest = 2.0, highest = 0.0;
  constexpr int replicates = 200;
  for (int replicate = 0; replicate < replicates; ++replicate) {
    const DriveDraw draw = built_drive(plan, replicate).draw;
    CHECK(draw.frequency == built_drive(plan, replicate).draw.frequency);
    const double log_frequency = std::log(draw.frequency);
    sum += log_frequency;
    square += log_frequency * log_frequency;
    lowest = std::min(lowest, draw.frequency);
    highest = std::max(highest, draw.frequency);
  }
  // -(dL + dC)/2 of uniform draws: variance (a^2 + b^2)/12; 200 draws know their deviation to 5 %, four of
  // them.
  const double deviation = std::sqrt(square / replicates - sum * sum / replicates / replicates);
  outside.matches("deviation of the drive's frequency factor", deviation,
                  std::sqrt((0.03 * 0.03 + 0.05 * 0.05) / 12.0), 0.2);
  CHECK(lowest >= 1.0 / std::sqrt(1.03 * 1.05) - 1e-4);
  CHECK(highest <= 1.0 / std::sqrt(0.97 * 0.95) + 1e-4);

  // Tags without tolerances of their own are alike within a replicate and differ between replicates.
  const auto first = start_vessel(plan, 0, built_drive(plan, 0).draw),
             second = start_vessel(plan, 1, built_drive(plan, 1).draw);
  for (std::size_t tag = 1; tag < first.size(); ++tag) {
    for (std::size_t fit = 0; fit < 2; ++fit)
      CHECK(first[tag].fits[fit].on_linkage_squared == first[0].fits[fit].on_linkage_squared);
  }
  CHECK(second[0].fits[0].on_linkage_squared != first[0].fits[0].on_linkage_squared);
}
