#include "sim/maps/air_state.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;
using namespace driftglow::maps;

namespace {

scenario::Scenario solved(const std::string& vents, const std::string& more = "",
                          const std::string& angle = "20 deg") {
  return scenario::parse_scenario(R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
air:
  source: solved
  fan: {curve: [[0 m3/s, 190 Pa], [0.05 m3/s, 165 Pa], [0.1 m3/s, 110 Pa], [0.15 m3/s, 0 Pa]], diameter: 170 mm, hub_diameter: 60 mm, swirl_angle: )" +
                                      angle + R"(}
  inlet_height: 80 mm
  mesh: {wire: 0.4 mm, opening: 3 mm}
  detail: quick
  vents: )" + vents + "\n" + more + R"(
tags:
  - {name: tracer, count: 3, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 1 s}
)",
                                  "solved.yaml");
}

}  // namespace

TEST_CASE("stored solved air is reused with the same numbers, and solved anew when something changes") {
  const store::Folder folder;
  const auto file = folder / "air.h5";
  const auto scenario = solved("{side_gap: {height: 14 mm}}");
  const auto first = make_air(scenario, file);
  CHECK(std::get<SolvedSource>(first.source).origin == MapOrigin::computed);
  write_air(first, scenario, "1", file, store::start_run(1));
  const auto again = make_air(scenario, file);
  const auto& a = std::get<SolvedSource>(first.source);
  const auto& b = std::get<SolvedSource>(again.source);
  CHECK(b.origin == MapOrigin::reused);
  CHECK(again.flow == first.flow);
  CHECK(again.fan_point->loss_pressures == first.fan_point->loss_pressures);
  CHECK(b.report.pressure_under_lid == a.report.pressure_under_lid);
  CHECK(b.report.error.flow == a.report.error.flow);
  CHECK(b.report.warnings == a.report.warnings);
  for (int i = 0; i < 50; ++i) {
    const numeric::Vec3<double> place{0.0019 * i, 0.0, 0.0064 * i};
    const auto u = first.map.sample(place).u_W, v = again.map.sample(place).u_W;
    CHECK((u.x == v.x && u.y == v.y && u.z == v.z));
  }
  CHECK(std::get<SolvedSource>(make_air(solved("{side_gap: {height: 15 mm}}"), file).source).origin ==
        MapOrigin::computed);
  CHECK(std::get<SolvedSource>(
            make_air(solved("{side_gap: {height: 14 mm}}", "  guard: {loss: 0.3}"), file).source)
            .origin == MapOrigin::computed);
}

TEST_CASE("all air that comes in goes out, and the file says where") {
  const Outside outside("continuity");
  const auto air =
      make_air(solved("{side_gap: {height: 10 mm}, holes: {to_radius: 30 mm, from_radius: 10 mm}}"));
  const auto& report = std::get<SolvedSource>(air.source).report;
  outside.matches("flow out of a solved vessel [m3/s]",
                  report.side_gap.out + report.lid.out - report.side_gap.in - report.lid.in, air.flow, 1e-6);
  outside.matches("flow inside the wall of a solved vessel [m3/s]",
                  2.0 * constant::pi * air.map.stream_function({0.095, 0.0, 0.1}), air.flow, 1e-6);
  double sum = air.fan_point->tag_pressure;
  for (const auto& [name, pressure] : air.fan_point->loss_pressures) sum += pressure;
  outside.matches("sum of pressure losses of a solved vessel [Pa]", sum, air.fan_point->pressure, 1e-4);
}

// What the trade says, in direction: a tight vent passes less at more pressure; fins take out the swirl, and
// without it the core rises faster.
TEST_CASE("tight vents and fins do what the trade says") {
  const auto tight = make_air(solved("{side_gap: {height: 8 mm}}")),
             open = make_air(solved("{side_gap: {height: 24 mm}}"));
  CHECK(tight.flow < 0.8 * open.flow);
  CHECK(std::get<SolvedSource>(tight.source).report.pressure_under_lid >
        1.3 * std::get<SolvedSource>(open.source).report.pressure_under_lid);
  const auto swirl = make_air(solved("{side_gap: {height: 14 mm}}", "", "35 deg"));
  const auto fins = make_air(
      solved("{side_gap: {height: 14 mm}}", "  fins: {count: 12, from: -70 mm, to: -10 mm}", "35 deg"));
  CHECK(std::fabs(fins.velocity(0.05, 0.16).u_theta) < 0.1 * swirl.velocity(0.05, 0.16).u_theta);
  CHECK(fins.velocity(0.0, 0.16).u_z > 1.5 * swirl.velocity(0.0, 0.16).u_z);
}

TEST_CASE("wire meshes lose by the speed that results") {
  const auto scenario = solved("{side_gap: {height: 14 mm}}");
  const auto geometry = geometry_of(scenario);
  // Between the losses at the slow and the fast end of the fan's curve.
  CHECK(geometry.mesh_loss < geometry_of(scenario, 0.02).mesh_loss);
  CHECK(geometry.mesh_loss > geometry_of(scenario, 0.15).mesh_loss);
}

TEST_CASE("a fan too weak for the tags is the user's fault, said in one sentence") {
  auto scenario = solved("{side_gap: {height: 14 mm}}");
  scenario.tags[0].body.kind = scenario::BodyKind::solid;
  scenario.tags[0].body.mass = 1.0;
  CHECK_THROWS_AS(make_air(scenario), InputError);
}

TEST_CASE("precession keeps the mean speed's frequency") {
  auto scenario =
      solved("{side_gap: {height: 14 mm}}", "  precession: {speed: 0.4 m/s, strouhal_number: 0.7}");
  const auto air = make_air(scenario);
  REQUIRE(air.precession);
  CHECK(air.precession->speed == 0.4);
  const double area = constant::pi * 0.095 * 0.095;
  CHECK(air.precession->frequency == relative(0.7 * air.flow / area / 0.19, 1e-12));
}
