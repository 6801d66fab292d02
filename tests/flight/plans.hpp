#pragma once

#include <filesystem>
#include <string>
#include <utility>

#include "sim/flight/plan.hpp"
#include "sim/scenario/reader.hpp"

// Plans as the program makes them.
namespace driftglow::flight {

inline std::filesystem::path config(const std::string& name) {
  return std::filesystem::path(DRIFTGLOW_SOURCE_DIR) / "configs" / name;
}

inline Plan plan_of(const scenario::Scenario& scenario) {
  auto drive = maps::make_drive(scenario, "");
  auto air = maps::make_air(scenario);
  return make_plan(scenario, std::move(air), std::move(drive));
}

// Ready to fly from rest, without warm-up; `steps` of 1 ms, traced.
inline Plan short_flight(scenario::Scenario scenario, int steps) {
  scenario.flight.warmup = 0.0;
  scenario.flight.duration = steps * scenario.flight.step;
  Plan plan = plan_of(scenario);
  plan.clock.trace_every = 7;
  solve_all(plan.families, 2);
  return plan;
}

inline scenario::Scenario demo() {
  return scenario::read_scenario(config("plankton_column.yaml"));
}

// The demo's tags with a pair of different and one of equal LEDs beside their single ones.
inline scenario::Scenario with_pairs(scenario::Scenario scenario) {
  auto& tag = scenario.tags.front();
  tag.fits = {"yellow-green", "warm-white", "yellow-green | warm-white", "yellow-green | yellow-green"};
  tag.mix = {{tag.fits[0], 4}, {tag.fits[1], 3}, {tag.fits[2], 3}, {tag.fits[3], 2}};
  return scenario;
}

// Every kind of tag that has a way of its own through the step: a cage and a ball with the drag of a sphere,
// without the wall's lift, and a disc; tracers; tags held with a fixed and with an ever new axis. In the
// demo's vessel and field, crowded and slow enough for the floor to matter.
inline scenario::Scenario one_of_each() {
  auto scenario = demo();
  const auto given = scenario::parse_scenario(R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
air: {flow_rate: 0.07 m3/s}
tags:
  - name: ball
    count: 4
    body: {radius: 12 mm, mass: 0.5 g, drag: {kind: sphere}, centre_offset: 1 mm, wall_lift: off}
    receiver: {threshold_flux_density: 18 uT}
  - name: disc
    count: 3
    body: {radius: 16 mm, mass: 0.4 g, drag: {kind: disc, thickness: 2 mm}, displaced_volume: 1 cm3}
    receiver: {threshold_flux_density: 18 uT}
  - {name: tracer, count: 3, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
  - name: fixed
    count: 1
    receiver: {threshold_flux_density: 18 uT}
    hold: {place: [10 mm, 0 mm, 150 mm], axis: [0, 3, 4]}
  - name: turned
    count: 2
    receiver: {threshold_flux_density: 18 uT}
    hold: {place: [0 mm, -30 mm, 200 mm]}
flight: {duration: 1 s}
)",
                                              "one of each");
  scenario.tags.insert(scenario.tags.end(), given.tags.begin(), given.tags.end());
  return scenario;
}

}  // namespace driftglow::flight
