#include "sim/scenario/reader.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numbers>
#include <set>
#include <sstream>
#include <string>

#include "models/error.hpp"
#include "sim/scenario/document.hpp"
#include "sim/scenario/key_table.hpp"
#include "tests/contains.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::scenario;

namespace {

const std::string folder = std::string(DRIFTGLOW_SOURCE_DIR) + "/tests/scenario/";

std::string text_of(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  REQUIRE(stream.good());
  return text.str();
}

// The smallest scenario with one part replaced.
std::string smallest_with(const std::string& part, const std::string& replacement) {
  std::string text = text_of(folder + "smallest.yaml");
  const auto at = text.find(part);
  REQUIRE(at != std::string::npos);
  return text.replace(at, part.size(), replacement);
}

std::string faults_of(const std::string& text) {
  try {
    parse_scenario(text, "s.yaml");
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

}  // namespace

TEST_CASE("every key arrives in SI") {
  const Scenario s = read_scenario(folder + "everything.yaml");
  CHECK(s.name == "everything");
  CHECK(s.title == "every key at once");
  CHECK(s.ambient.temperature == relative(294.15, 1e-15));
  CHECK(s.ambient.pressure == 98000);
  CHECK(s.ambient.threshold_illuminance == 2e-6);
  CHECK(s.ambient.viewing_distance == 1.5);
  CHECK(s.vessel.inner_diameter == 0.19);
  CHECK(s.vessel.height == 0.32);

  const auto& drive = std::get<CoilDrive>(s.drive);
  const auto& driver = std::get<CurrentFedPushPull>(drive.driver);
  CHECK(driver.supply_voltage == 24);
  CHECK(driver.voltage_drop == 0.7);
  CHECK(driver.capacitance == 20e-9);
  CHECK(driver.capacitor_loss_tangent == 0.0005);
  CHECK(driver.chokes == Chokes::two);
  CHECK(driver.choke_inductance == 470e-6);
  CHECK(driver.supply_current_rating == 2.);
  CHECK(driver.capacitor_voltage_rating == 250.);
  CHECK(driver.capacitor_current_rating == 3.);
  CHECK(drive.tolerances.inductance == 0.02);
  CHECK(drive.tolerances.capacitance == 0.05);
  REQUIRE(drive.circuits.size() == 1);
  CHECK(drive.circuits[0].name == "main");
  CHECK(drive.coaxial());
  REQUIRE(drive.coils.size() == 2);
  CHECK(drive.coils[0].circuit == "main");
  CHECK(drive.coils[0].centre[2] == 0.08);
  CHECK(drive.coils[0].winding.turns == 10.5);
  CHECK(drive.coils[0].winding.wire.enamelled_diameter == relative(1.062e-3, 1e-12));
  CHECK(drive.coils[0].sense == 1);
  CHECK(drive.coils[1].circuit == "main");
  CHECK(drive.coils[1].centre[2] == 0.24);
  CHECK(drive.coils[1].winding.wire.bare_diameter == relative(1.024e-3, 5e-4));  // ASTM B258, AWG 18
  CHECK(drive.coils[1].winding.wire.enamelled_diameter == 1.1e-3);
  CHECK(drive.coils[1].sense == 1);  // -1 about an axis that points down

  const auto& air = std::get<ColumnAir>(s.air.source);
  const auto& fan = std::get<Fan>(air.flow);
  CHECK(fan.name == "hall fan");
  REQUIRE(fan.curve.size() == 3);
  CHECK(fan.curve[1].first == relative(0.05, 1e-15));
  CHECK(fan.curve[1].second == 40);
  CHECK(air.losses[0].area == relative(std::numbers::pi * 0.095 * 0.095, 1e-15));
  CHECK(air.losses[1].area == 110e-4);
  CHECK(air.profile_exponent == 4);
  CHECK(air.circulation == 1.2);
  CHECK(air.side_vents->bottom == 0.25);
  CHECK(air.side_vents->fraction == 0.3);
  CHECK(air.lid_opening->inner_radius == 0.02);
  CHECK(air.lid_opening->outer_radius == 0.06);
  CHECK(air.swirl_speed == 0.4);
  CHECK(air.swirl_core_radius == 0.03);
  CHECK(air.swirl_wall_exponent == 8);
  CHECK(air.swirl_decay == 0.05);
  CHECK(air.fin_swirl_factor == 0.3);
  CHECK(air.fin_loss_coefficient == 0.4);
  CHECK(air.turbulence_intensity == 0.12);
  CHECK(air.turbulence_floor == 0.001);
  CHECK(air.length_scale == 0.013);

  REQUIRE(s.emitters.size() == 2);  // in order of first use by a fit
  CHECK(s.emitters[0].name == "my green");
  CHECK(s.emitters[0].colour == "green");
  CHECK(s.emitters[0].points[1] == std::pair(1e-3, 2.55));
  CHECK(s.emitters[0].intensity == 0.8);
  CHECK(s.emitters[0].intensity_current == 0.02);
  CHECK(s.emitters[0].junction_capacitance == 35e-12);
  CHECK(s.emitters[0].reverse_breakdown == 22);
  CHECK(s.emitters[0].reverse_leakage == 5e-9);
  CHECK(s.emitters[0].mean_current_rating == 0.02);
  CHECK(s.emitters[0].peak_current_rating == 0.1);
  CHECK(s.emitters[0].reverse_voltage_rating == 5);
  CHECK(s.emitters[0].chromaticity == std::array{0.2, 0.7});
  CHECK(s.emitters[1].name == "warm-white");

  REQUIRE(s.tags.size() == 3);
  const TagDesign& tag = s.tags[0];
  CHECK(tag.name == "plankton");
  CHECK(tag.count == 24);
  CHECK(tag.body.kind == BodyKind::solid);
  CHECK(tag.body.radius == 0.018);
  CHECK(tag.body.mass == relative(0.485e-3, 1e-12));
  REQUIRE(tag.body.parts.size() == 2);
  CHECK(tag.body.parts[1].mass == 0.285e-3);
  CHECK(std::get<CageDrag>(tag.body.drag).coefficient_along == 1.1);
  CHECK(std::get<CageDrag>(tag.body.drag).coefficient_across == 0.8);
  CHECK(std::get<CageDrag>(tag.body.drag).frontal_area == 5e-4);
  CHECK(tag.body.inertia == 0.6);
  CHECK(tag.body.centre_offset == 0.002);
  CHECK(tag.body.displaced_volume == 1e-6);
  CHECK(tag.body.restitution == 0.5);
  CHECK(tag.body.friction == 0.25);
  CHECK(tag.body.rolling_resistance == 0.03);
  CHECK(tag.body.wall_lift == WallLift::off);
  const auto& receiver = std::get<CircuitReceiver>(tag.receiver);
  CHECK(receiver.winding.inner_diameter == 0.03);
  CHECK(receiver.winding.turns == 23);
  CHECK(receiver.winding.layers == 3);
  CHECK(receiver.winding.wire.bare_diameter == 0.125e-3);
  CHECK(receiver.winding.wire.enamelled_diameter == 0.15e-3);
  CHECK(receiver.winding.pitch == 0.16e-3);
  CHECK(receiver.capacitance == 47e-9);
  CHECK(receiver.loss_tangent == 0.001);
  CHECK(receiver.tolerances.inductance == 0.03);
  CHECK(receiver.tolerances.capacitance == 0.05);
  CHECK(receiver.tolerances.led_voltage == 0.05);
  CHECK(receiver.threshold_current == 0.2e-3);
  CHECK_FALSE(receiver.capacitor_rated_voltage);
  CHECK_FALSE(receiver.capacitor_class);
  CHECK(tag.fits == std::vector<std::string>{"my green", "warm-white", "my green | warm-white"});
  CHECK(tag.mix == std::vector<std::pair<std::string, int>>{
                       {"my green", 12}, {"warm-white", 8}, {"my green | warm-white", 4}});
  REQUIRE(s.emitters_of("warm-white").size() == 1);
  REQUIRE(s.emitters_of(tag.fits[2]).size() == 2);
  CHECK(s.emitters_of(tag.fits[2])[0]->name == "my green");
  CHECK(s.emitters_of(tag.fits[2])[1]->name == "warm-white");
  CHECK_FALSE(tag.hold);

  const TagDesign& disc = s.tags[1];
  CHECK(std::get<DiscDrag>(disc.body.drag).thickness == 0.002);
  CHECK(disc.body.inertia == 0.5);
  CHECK(disc.body.displaced_volume == 0);
  const auto& fine = std::get<CircuitReceiver>(disc.receiver).winding;
  CHECK(fine.wire.bare_diameter == relative(0.127e-3, 1e-12));
  CHECK(fine.pitch == fine.wire.enamelled_diameter);
  const auto& classed = std::get<CircuitReceiver>(disc.receiver);
  CHECK(classed.capacitor_rated_voltage == 25.);
  REQUIRE(classed.capacitor_class);
  CHECK(classed.capacitor_class->code == "X7R");
  CHECK(classed.capacitor_class->dielectric == driftglow::receiver::Dielectric::class_2_ceramic);
  CHECK(classed.capacitor_class->bias_rated_voltage == 25.);
  CHECK_FALSE(classed.capacitor_class->own_loss_tangent);
  CHECK(classed.tolerances.capacitance == 0.1);  // K, class 2

  CHECK(std::get<ThresholdReceiver>(s.tags[2].receiver).flux_density == 18e-6);
  CHECK(s.tags[2].fits == std::vector<std::string>{"threshold"});
  CHECK(s.tags[2].hold->place == std::array{0., 0., 0.16});
  CHECK((*s.tags[2].hold->axis)[1] == relative(0.6, 1e-15));

  CHECK(s.flight.duration == 60);
  CHECK(s.flight.warmup == 4);
  CHECK(s.flight.step == 0.5e-3);
  CHECK(s.flight.replicates == 200);
  CHECK(s.flight.target_interval == 0.01);
  CHECK(s.flight.seed == 18446744073709551615U);
  CHECK(s.flight.coupling == Coupling::on);
  CHECK(s.flight.lost_limit == relative(0.002, 1e-15));
  CHECK(s.flight.trace.replicates == 2);
  CHECK(s.flight.trace.interval == 0.025);
}

TEST_CASE("what may be left out has the defaults of the table") {
  const Scenario s = read_scenario(folder + "smallest.yaml");
  CHECK(s.title == "smallest");
  CHECK(s.ambient.temperature == relative(293.15, 1e-15));
  CHECK(s.ambient.pressure == 101325);
  CHECK(s.ambient.threshold_illuminance == 2e-6);  // minor light
  const auto& field = std::get<UniformField>(s.drive);
  CHECK(field.flux_density_peak == 40e-6);
  CHECK(field.axis == std::array{0., 0., 1.});
  CHECK_FALSE(field.quadrature_axis);
  const auto& air = std::get<ColumnAir>(s.air.source);
  CHECK(std::get<double>(air.flow) == 0);
  CHECK(air.fin_swirl_factor == 1);
  CHECK(air.swirl_speed == 0);
  CHECK(air.swirl_core_radius > 0);
  CHECK(s.tags[0].mix == std::vector<std::pair<std::string, int>>{{"threshold", 3}});
  CHECK(s.tags[0].body.mass > 0);
  CHECK(s.tags[0].hold);
  CHECK_FALSE(s.tags[0].hold->axis);
  CHECK(s.flight.step == 1e-3);
  CHECK(s.flight.warmup == 5);
  CHECK(s.flight.replicates == 16);
  CHECK(s.flight.seed == 1);
  CHECK(s.flight.lost_limit == 0.01);
  CHECK(s.emitters.empty());
}

TEST_CASE("the text is kept with its SHA-256") {
  const std::string text = text_of(folder + "smallest.yaml");
  const Scenario s = parse_scenario(text, "smallest.yaml");
  CHECK(s.text == text);
  CHECK(s.hash.size() == 64);
  CHECK(s.hash != parse_scenario(text + "\n", "smallest.yaml").hash);
}

TEST_CASE("an own emitter goes before the library's of the same name") {
  const std::string own =
      "emitters:\n  - {name: green, colour: lime, points: [[1 mA, 2 V], [2 mA, 2.1 V]], luminous_intensity: "
      "1 cd, at_current: "
      "1 mA, ratings: {mean_current: 1 mA, peak_current: 2 mA, reverse_voltage: 5 V}}\ntags:";
  const std::string circuit =
      "{inner_diameter: 10 mm, turns: 20, wire: 0.1 mm, capacitor: 47 nF}\n    fits: [green, warm-white]\n";
  std::string text = smallest_with("{threshold_flux_density: 18 uT}\n", circuit);
  CHECK(parse_scenario(text, "s").emitters[0].colour == "green");
  text.replace(text.find("tags:"), 5, own);
  const Scenario s = parse_scenario(text, "s");
  CHECK(s.emitters[0].colour == "lime");
  CHECK(s.emitters[1].name == "warm-white");
  CHECK(s.tags[0].mix == std::vector<std::pair<std::string, int>>{{"green", 2}, {"warm-white", 1}});
}

TEST_CASE("a tracer needs no body but its kind") {
  const Scenario s = parse_scenario(smallest_with("hold: {place: [0 mm, 0 mm, 160 mm]}\n",
                                                  "body: {kind: tracer}\nair: {flow_rate: 0.01 m3/s}\n"),
                                    "s");
  CHECK(s.tags[0].body.kind == BodyKind::tracer);
  CHECK(s.tags[0].body.radius == 0);
}

TEST_CASE("the libraries read, and their names are names") {
  CHECK(library_emitters().size() >= 6);
  CHECK(library_fans().size() >= 3);
  const std::string with_fan = smallest_with("hold: {place: [0 mm, 0 mm, 160 mm]}\n",
                                             "body: {kind: tracer}\nair: {fan: {name: axial 120 mm}, losses: "
                                             "[{name: mesh, loss_coefficient: 1}]}\n");
  CHECK(std::get<Fan>(std::get<ColumnAir>(parse_scenario(with_fan, "s").air.source).flow).curve.size() == 5);
}

TEST_CASE("all faults of a file come at once, in its order") {
  const std::string text =
      "vessel: {inner_diameter: 190, height: 320 mm}\ndrive:\n  field: {flux_densty: 40 uT, frequency: 118 "
      "kHz}\ntags: 3\n";
  CHECK(faults_of(text) ==
        "s.yaml:1:1: key `flight` is missing; expected a block of keys such as `duration: 60 s`\n"
        "s.yaml:1:26: vessel.inner_diameter: value `190` has no unit; expected a length such as `190 mm`\n"
        "s.yaml:3:10: drive.field: key `flux_density` is missing; expected a flux density such as `40 uT`\n"
        "s.yaml:3:11: drive.field.flux_densty: unknown key; did you mean `flux_density`?\n"
        "s.yaml:4:7: tags: value is text; expected a list of blocks such as `- name: plankton`");
}

TEST_CASE("one fault raises no second one") {
  for (const std::string bad : {"wide", "{}", "[]", "~", "-5 mm", "1e300 km"}) {
    const std::string faults = faults_of(smallest_with("190 mm", bad));
    CAPTURE(faults);
    CHECK(contains(faults, "vessel.inner_diameter"));
    CHECK_FALSE(contains(faults, "\n"));
  }
}

TEST_CASE("files that are no scenario are refused in one sentence") {
  const auto fault = [](const std::filesystem::path& file) -> std::string {
    try {
      read_scenario(file);
    } catch (const InputError& error) {
      return error.what();
    }
    return "";
  };
  const auto scratch = std::filesystem::temp_directory_path() / "driftglow_reader_test.yaml";
  CHECK(contains(fault("/nowhere/s.yaml"), "does not exist"));
  CHECK(contains(fault(folder), "is a directory"));
  CHECK(contains(fault("/dev/null"), "is not a regular file"));
  const auto with_content = [&](const std::string& content) {
    std::ofstream(scratch, std::ios::binary) << content;
    return fault(scratch);
  };
  CHECK(contains(with_content(""), "the file is empty"));
  CHECK(contains(with_content("\x7f"
                              "ELF\x01\x02"),
                 "not UTF-8 text"));
  CHECK(contains(with_content(std::string(largest_file + 10, 'x')), "expected at most 1048576"));
  CHECK(contains(with_content("just words\n"), "no block of keys"));
  std::filesystem::remove(scratch);
}

TEST_CASE("no cut or changed byte of a scenario brings anything but a scenario or an InputError") {
  const std::string text = text_of(folder + "everything.yaml");
  for (std::size_t i = 0; i < text.size(); i += 7) {
    faults_of(text.substr(0, i));
    for (const char c : {'\0', ':', '-', '[', '{', '&', '*', '9', ' ', '\n', '\xff'}) {
      std::string changed = text;
      changed[i] = c;
      const std::string faults = faults_of(changed);
      for (std::size_t at = 0; at < faults.size(); at = std::min(faults.find('\n', at), faults.size()) + 1)
        REQUIRE(faults.substr(at).starts_with("s.yaml:"));
    }
  }
}

// The files of these tests; each kind of drive needs one of its own.
TEST_CASE("every key of the table is read in one of the files") {
  std::set<std::string> met;
  const std::function<void(const Node&, const std::string&)> visit = [&](const Node& node,
                                                                         const std::string& path) {
    for (const NodePointer& item : node.items) visit(*item, path + "[]");
    for (const Entry& entry : node.entries) {
      const std::string below = path.empty() ? entry.key : path + "." + entry.key;
      met.insert(below);
      visit(*entry.value, below);
    }
  };
  for (const char* name : {"everything.yaml", "everything_bridge.yaml", "everything_measured.yaml",
                           "everything_uniform.yaml", "everything_field.yaml", "everything_solved.yaml",
                           "everything_solved_losses.yaml", "everything_gridded.yaml"}) {
    read_scenario(folder + name);
    Faults faults(name);
    visit(*parse_document(text_of(folder + name), faults), "");
    CHECK(faults.empty());
  }
  for (const Key& key : keys()) {
    if (!file_of(key.path).empty()) continue;
    CAPTURE(key.path);
    CHECK(met.count(std::string(key.path)) == 1);
  }
}

TEST_CASE("circuits, coils anywhere, litz, a bridge and passive metal") {
  const Scenario s = read_scenario(folder + "everything_bridge.yaml");
  const auto& drive = std::get<CoilDrive>(s.drive);
  CHECK_FALSE(drive.coaxial());
  const auto& driver = std::get<VoltageFedSeries>(drive.driver);
  CHECK(driver.bridge == driftglow::driver::Bridge::full);
  CHECK(driver.supply_voltage == 24);
  CHECK(driver.switch_resistance == 0.03);
  CHECK(driver.capacitance == 12e-9);
  CHECK(driver.capacitor_loss_tangent == 0.001);
  CHECK(driver.frequency == 118e3);
  CHECK(driver.supply_current_rating == 2.);
  CHECK(drive.tolerances.inductance == 0.02);
  CHECK(drive.tolerances.capacitance == 0.05);
  REQUIRE(drive.circuits.size() == 2);
  CHECK(drive.circuits[0].connection == Connection::series);
  CHECK(drive.circuits[0].phase == 0);
  CHECK_FALSE(drive.circuits[0].capacitance);
  CHECK(drive.circuits[1].connection == Connection::parallel);
  CHECK(drive.circuits[1].phase == relative(std::numbers::pi / 2, 1e-15));
  CHECK(drive.circuits[1].capacitance == 7e-9);
  REQUIRE(drive.coils.size() == 3);
  CHECK(drive.coils[0].circuit == "upright");
  const Coil& left = drive.coils[1];
  CHECK(left.centre == std::array{-0.13, 0., 0.16});
  CHECK(left.axis == std::array{-1., 0., 0.});
  CHECK(left.sense == 1);
  REQUIRE(left.winding.wire.litz);
  CHECK(left.winding.wire.litz->strands == 100);
  CHECK(left.winding.wire.litz->strand_diameter == relative(1e-4, 1e-15));
  CHECK(left.winding.wire.litz->lay_factor == 1.03);
  CHECK(left.winding.wire.bare_diameter == relative(1.4e-3, 1e-15));
  const Coil& right = drive.coils[2];
  CHECK(right.winding.wire.litz->lay_factor == 1.02);
  // Grade 1 of 0.1 mm is 0.117 mm (IEC 60317-0-1).
  CHECK(right.winding.wire.bare_diameter == relative(1.155 * 10 * 0.117e-3, 1e-3));
  REQUIRE(drive.conductors.size() == 2);
  CHECK(drive.conductors[0].metal == MetalKind::brass);
  CHECK(std::get<Ring>(drive.conductors[0].shape).diameter == 0.23);
  CHECK(std::get<driftglow::coil::RectangularSection>(drive.conductors[0].section).width == 0.01);
  CHECK(drive.conductors[1].metal == MetalKind::aluminium);
  CHECK(std::get<Cage>(drive.conductors[1].shape).rods == 6);
  CHECK(drive.conductors[1].joint_resistance == 0.001);
}

TEST_CASE("solved air, precession and averaged gusts") {
  const std::string text = R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
air:
  source: solved
  fan: {curve: [[0 m3/s, 90 Pa], [0.12 m3/s, 0 Pa]], diameter: 170 mm, hub_diameter: 60 mm, speed: -3000 rpm, efficiency: 35 %}
  inlet_height: 80 mm
  guard: {wire: 1.5 mm, opening: 8 mm}
  mesh: {loss: 1.5}
  fins: {where: wall, count: 6, depth: 12 mm, to: 200 mm}
  vents:
    side_gap: {height: 12 mm, edge: rounded}
    holes: {from_radius: 10 mm, to_radius: 50 mm, diameter: 8 mm, count: 30}
  detail: fine
  precession: {speed: 0.3 m/s, strouhal_number: -0.7}
tags:
  - {name: tracer, count: 3, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 1 s}
)";
  const Scenario s = parse_scenario(text, "s");
  const auto& air = std::get<SolvedAir>(s.air.source);
  CHECK(air.fan.curve.size() == 2);
  CHECK(air.fan_diameter == 0.17);
  CHECK(air.hub_diameter == 0.06);
  CHECK(std::get<FanByWork>(air.swirl).angular_speed == relative(-100 * std::numbers::pi, 1e-15));
  CHECK(std::get<FanByWork>(air.swirl).efficiency == 0.35);
  CHECK(air.inlet_height == 0.08);
  CHECK(std::get<driftglow::air::WireMesh>(*air.guard).opening == 0.008);
  CHECK(std::get<double>(*air.mesh) == 1.5);
  CHECK(air.fins->count == 6);
  CHECK(air.fins->from == 0);
  CHECK(air.fins->to == 0.2);
  CHECK(air.side_gap == 0.012);
  CHECK(air.edge == Edge::rounded);
  CHECK(air.lid_vent->open_share == relative(30 * 16e-6 / (2500e-6 - 100e-6), 1e-14));
  CHECK(air.hole_diameter == 0.008);
  CHECK(air.detail == driftglow::swirl_flow::Detail::fine);
  CHECK(s.air.precession->speed == 0.3);
  CHECK(s.air.precession->strouhal_number == -0.7);
  CHECK(s.air.gust_averaging == GustAveraging::on);

  // A lid above the wall raises the room by the gap it leaves.
  std::string lifted = text;
  lifted.replace(lifted.find("side_gap: {height: 12 mm, edge: rounded}"), 40, "side_gap: {edge: rounded}");
  lifted.replace(lifted.find("  detail: fine"), 14, "  lid_height: 325 mm");
  const Scenario raised = parse_scenario(lifted, "s");
  CHECK(raised.vessel.height == 0.325);
  CHECK(std::get<SolvedAir>(raised.air.source).side_gap == relative(0.005, 1e-12));
}

TEST_CASE("gridded air is looked for beside the scenario") {
  const Scenario s = parse_scenario(R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
air: {source: gridded, file: measured.csv, open_above: 300 mm, turbulence: {intensity: 8 %}}
tags:
  - {name: tracer, count: 3, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 1 s}
)",
                                    "some/where/s.yaml");
  const auto& air = std::get<GriddedAir>(s.air.source);
  CHECK(air.file == "some/where/measured.csv");
  CHECK(air.open_above == 0.3);
  CHECK(air.turbulence_intensity == 0.08);
  CHECK_FALSE(air.length_scale);
}
