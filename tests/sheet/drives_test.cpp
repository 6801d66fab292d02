#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <sstream>

#include "sim/flight/tag_draw.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sheet/sheet_parts.hpp"
#include "tests/contains.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

// The sheet of every kind of drive.
using namespace driftglow;

namespace {

constexpr double pi = 3.14159265358979;

struct Made {
  scenario::Scenario scenario;
  flight::Plan plan;
  sheet::DesignSheet sheet;
  nlohmann::json json;
  std::string text;
};

Made made_of(scenario::Scenario scenario) {
  auto plan = flight::make_plan(scenario, maps::make_air(scenario), maps::make_drive(scenario, {}));
  auto sheet = sheet::make_sheet(scenario, plan);
  auto json = nlohmann::json::parse(sheet::sheet_json(sheet).dump());
  auto text = sheet::sheet_text(sheet);
  return {std::move(scenario), std::move(plan), std::move(sheet), std::move(json), std::move(text)};
}

// The coils of model.md section 8 with another drive, and tags that sit in its field.
Made made(const std::string& driver, const std::string& more = "",
          const std::string& wire = "wire: 1 mm, pitch: 1.5 mm", int tags = 24) {
  return made_of(scenario::parse_scenario(fmt::format(R"(
vessel: {{inner_diameter: 190 mm, height: 320 mm}}
drive:
  driver: {{{}}}
  coils:
    - {{name: lower, height: 80 mm, inner_diameter: 200 mm, turns: 10, {}}}
    - {{name: upper, height: 240 mm, inner_diameter: 200 mm, turns: 10, {}}}
{}
air: {{flow_rate: 0.07 m3/s}}
tags:
  - name: sphere
    count: {}
    body: {{radius: 18 mm, mass: 0.485 g}}
    receiver: {{inner_diameter: 30 mm, turns: 23, layers: 3, wire: 0.125 mm, capacitor: 47 nF, threshold_current: 0.2 mA}}
    fits: [yellow-green, warm-white]
flight: {{duration: 1 s}}
)",
                                                      driver, wire, wire, more, tags),
                                          "made.yaml"));
}

const std::string bridge =
    "kind: voltage_fed_series, bridge: half, supply: 4 V, switch_resistance: 50 mohm, capacitor: 20 nF";
const std::string measured = "kind: given_current, current: 0.6 A, frequency: 118 kHz";

int lines_within_columns(const std::string& text) {
  std::istringstream lines(text);
  int count = 0;
  for (std::string line; std::getline(lines, line); ++count) {
    CAPTURE(line);
    CHECK(line.size() <= 100);
  }
  return count;
}

void check_pages(const std::string& text) {
  CHECK(lines_within_columns(text) <= 96);  // two pages of 48 lines
}

bool cautions(const sheet::DesignSheet& sheet, std::string_view part) {
  return std::any_of(sheet.cautions.begin(), sheet.cautions.end(),
                     [&](const auto& caution) { return contains(caution, part); });
}

}  // namespace

TEST_CASE("the sheet of every configuration fits on two pages of a terminal") {
  int configs = 0;
  for (const auto& file : std::filesystem::directory_iterator(DRIFTGLOW_SOURCE_DIR "/configs")) {
    if (!file.is_regular_file()) continue;  // studies have a folder of their own there
    CAPTURE(file.path().filename().string());
    check_pages(made_of(scenario::read_scenario(file.path())).text);
    ++configs;
  }
  CHECK(configs >= 5);
}

TEST_CASE("titles and names of any length stay within the columns") {
  auto scenario = scenario::read_scenario(DRIFTGLOW_SOURCE_DIR "/configs/check_still_tag.yaml");
  scenario.title = std::string(250, 'x') + " and a tail";
  for (auto& tag : scenario.tags) tag.name += std::string(60, 'y');
  CHECK(lines_within_columns(made_of(std::move(scenario)).text) > 0);
}

TEST_CASE("bridge drive: unlit tags lower the coil current by their resistance in the loop") {
  const Outside outside("resistances in the loop, by hand");
  const auto m = made(bridge);
  check_pages(m.text);
  const auto& circuit = m.sheet.circuits.at(0);
  const auto& empty = circuit.draw->empty;
  const double omega = 2.0 * pi * empty.frequency;
  // By hand: half bridge 2 V/pi into coils, one switch and the capacitor's loss in series, on resonance.
  const double loop = circuit.point.resistance.total + 0.05 + 5e-4 * omega * circuit.point.L;
  outside.matches("current of a bridge on the sheet [A]", empty.current_peak, 2.0 * 4.0 / pi / loop, 2e-3);
  // Each tag adds (omega M)^2 R/(R^2 + X^2) of its linear tank, the mean over places; copper a little cooler,
  // frequency a little off: 1 % of the change in current.
  const auto& design = m.plan.designs.at(0);
  const auto reach = maps::tag_reach(m.scenario);
  double square = 0.0;
  for (int i = 1; i <= 4096; ++i)
    square += std::pow(omega * flight::linkage(m.plan, design, flight::sample(reach, i)) /
                           circuit.point.current_peak,
                       2) /
              4096.0;
  const auto tank = flight::nominal_tank(*design.tank, design.leds.front());
  const double x = omega * tank.inductance - 1.0 / (omega * tank.total_capacitance());
  const double added = 24.0 * square * tank.resistance / (tank.resistance * tank.resistance + x * x);
  const double fall = added / (loop + added);
  CHECK(fall > 0.02);
  outside.matches("fall of a bridge's current by tags",
                  1.0 - circuit.draw->unlit.current_peak / empty.current_peak, fall, 0.05);
  CHECK(circuit.draw->lit.current_peak > circuit.draw->unlit.current_peak);
  CHECK(circuit.draw->lit.current_peak < empty.current_peak);
  CHECK(m.json["drive"]["bridge"]["fundamental_peak"].get<double>() == relative(2.0 * 4.0 / pi, 1e-9));
  CHECK(m.json["drive"]["tag_draw"]["lit"]["current_peak"].get<double>() == circuit.draw->lit.current_peak);
  CHECK(contains(m.text, "lost in switches, harmonics"));
  CHECK(cautions(m.sheet, "low-voltage supplies"));
  CHECK(cautions(m.sheet, "The tags lower the coil current of circuit main by"));
}

TEST_CASE("a drive at the upper end of the frequencies has a sheet too") {
  const auto m = made("kind: given_current, current: 10 mA, frequency: 30 MHz");
  check_pages(m.text);
  // ICNIRP 2010 ends at 10 MHz: those of 2020 are left.
  CHECK(m.json["exposure"]["levels"].size() == 2);
}

TEST_CASE("push-pull drive: tags raise the supply current and hardly touch the coil current") {
  const auto m = made("kind: current_fed_push_pull, supply: 14 V, drop: 0.7 V, capacitor: 20 nF");
  const auto& draw = m.sheet.circuits.at(0).draw.value();
  CHECK(*draw.lit.supply_current > 1.05 * *draw.empty.supply_current);
  CHECK(*draw.unlit.supply_current > *draw.lit.supply_current);
  // Tank voltage given: what the tags reflect, some tenths of an ohm, against 68 ohm of reactance.
  CHECK(draw.lit.current_peak == relative(draw.empty.current_peak, 3e-3));
}

TEST_CASE("given current: neither supply nor capacitor, but the tags' power") {
  const auto m = made(measured);
  check_pages(m.text);
  CHECK_FALSE(m.json["drive"].contains("supply_current"));
  CHECK(m.json["drive"]["tag_draw"]["lit"]["supply_current"].is_null());
  CHECK(m.json["drive"]["tag_draw"]["lit"]["tag_power"].get<double>() > 0.0);
  CHECK(m.json["drive"]["current_peak"].get<double>() == 0.6);
  CHECK_FALSE(contains(m.text, "supply, no tags"));
  CHECK(contains(m.text, "tags take, dark, lit"));
  CHECK_FALSE(cautions(m.sheet, "low-voltage supplies"));
}

// Two coupled circuits, any textbook: the ring carries omega M I/|Z|, takes half I_ring^2 R, and adds
// -(omega M)^2 X/|Z|^2 to the reactance, (omega M)^2 R/|Z|^2 to the resistance: the ratio of the two and the
// power hold without knowing M.
TEST_CASE("a metal ring by the laws of two coupled circuits") {
  const Outside outside("two coupled circuits (textbooks)");
  const std::string ring =
      "  conductors: [{name: rim, kind: ring, metal: aluminium, height: -5 mm, diameter: 210 mm, section: "
      "{diameter: 4 mm}}]";
  const auto m = made(measured, ring);
  check_pages(m.text);
  const auto& circuit = m.sheet.circuits.at(0);
  REQUIRE(m.sheet.metal.size() == 1);
  const auto& part = m.sheet.metal[0];
  const double omega = 2.0 * pi * 118e3,
               rho = 2.8264e-8 * (1.0 + 0.00403 * (m.scenario.ambient.temperature - 293.15));
  const double depth = std::sqrt(2.0 * rho / (omega * 4e-7 * pi));
  // Wire thick against the skin: current in a layer of one skin depth, to the next order.
  const double R = 2.0 * pi * 0.105 * rho / (2.0 * pi * (0.002 - 0.5 * depth) * depth);
  const double X = omega * 4e-7 * pi * 0.105 * (std::log(8.0 * 0.105 / (0.002 - 0.5 * depth)) - 2.0);
  outside.matches("loss of a metal ring on the sheet [W]", part.loss,
                  0.5 * part.current_peak * part.current_peak * R, 0.02);
  outside.matches("ratio of reflected resistance and reactance",
                  -circuit.reflected_resistance / (omega * circuit.reflected_inductance), R / X, 0.02);
  // Power: what the terminals give more is what the ring takes, less what the coils' own proximity loss falls
  // in the weakened field (a third of their loss of 0.12 W, by some tenths of a per cent).
  outside.matches("loss by the reflected resistance [W]", 0.5 * 0.36 * circuit.reflected_resistance,
                  part.loss, 0.03);
  CHECK(circuit.losses.elsewhere == relative(part.loss, 1e-3));
  CHECK(m.json["metal"][0]["current_peak"].get<double>() == part.current_peak);
  CHECK(m.json["drive"]["losses"]["elsewhere"].get<double>() == circuit.losses.elsewhere);
  CHECK(contains(m.text, "metal nearby"));
  CHECK(contains(m.text, "metal adds"));
}

TEST_CASE("a cage of rods is one part, its losses those of all its meshes") {
  const std::string cage =
      "  conductors: [{name: rods, kind: cage, metal: brass, low: -10 mm, high: 330 mm, diameter: 230 mm, "
      "rods: 4, section: {diameter: 4 mm}}]";
  const auto m = made(measured, cage);
  check_pages(m.text);
  REQUIRE(m.sheet.metal.size() == 1);
  CHECK(m.sheet.metal[0].current_peak > 0.0);
  // Lenz: closed metal can only lower the inductance and add resistance.
  CHECK(m.sheet.circuits.at(0).reflected_inductance < 0.0);
  CHECK(m.sheet.circuits.at(0).reflected_resistance > 0.0);
  CHECK(m.sheet.metal[0].loss == relative(m.sheet.circuits.at(0).losses.elsewhere, 1e-3));
}

TEST_CASE("two circuits of a given current, by columns and in the JSON") {
  const auto m = made_of(scenario::parse_scenario(R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive:
  driver: {kind: given_current, current: 0.6 A, frequency: 118 kHz}
  circuits: [{name: upright}, {name: across, phase: 90 deg, current_ratio: 0.5}]
  coils:
    - {name: lower, circuit: upright, height: 80 mm, inner_diameter: 204 mm, turns: 10, wire: 1 mm, pitch: 2 mm}
    - {name: upper, circuit: upright, height: 240 mm, inner_diameter: 204 mm, turns: 10, wire: 1 mm, pitch: 2 mm}
    - {name: left, circuit: across, centre: [-130 mm, 0 mm, 160 mm], axis: [1, 0, 0], inner_diameter: 200 mm, turns: 10, wire: 1 mm, pitch: 2 mm}
tags:
  - {name: held, count: 1, receiver: {threshold_flux_density: 18 uT}, hold: {place: [0 mm, 0 mm, 160 mm]}}
flight: {duration: 1 s}
)",
                                                  "two.yaml"));
  check_pages(m.text);
  REQUIRE(m.json["other_circuits"].size() == 1);
  CHECK(m.json["other_circuits"][0]["circuit"] == "across");
  CHECK(m.json["other_circuits"][0]["current_peak"].get<double>() == relative(0.3, 1e-12));
  // Crossed at the middle between two equal coils: no mutual flux.
  REQUIRE(m.json["circuit_coupling"].size() == 1);
  CHECK(std::fabs(m.json["circuit_coupling"][0]["k"].get<double>()) < 1e-6);
  CHECK(contains(m.text, "upright"));
  CHECK(contains(m.text, "across"));
}

TEST_CASE("drive tolerances move frequency and current by half their sum") {
  const Outside outside("closed form f ~ 1/sqrt(L C), I ~ sqrt(C/L)");
  const auto m = made(
      "kind: current_fed_push_pull, supply: 14 V, drop: 0.7 V, capacitor: 20 nF, chokes: ideal, "
      "tolerances: {inductance: 2 %, capacitance: 4 %}");
  check_pages(m.text);
  const auto& spread = m.sheet.circuits.at(0).spread.value();
  const auto& point = m.sheet.circuits.at(0).point;
  // f = 1/(2 pi sqrt(LC)) at the corners; Q of 100 moves it by 1e-4 of that.
  outside.matches("frequency limits on the sheet [Hz]", spread.frequency_low,
                  point.frequency / std::sqrt(1.02 * 1.04), 1e-4);
  outside.matches("frequency limits on the sheet [Hz]", spread.frequency_high,
                  point.frequency / std::sqrt(0.98 * 0.96), 1e-4);
  // Tank voltage given: I = V sqrt(C/L).
  outside.matches("current limit on the sheet [A]", spread.current_high,
                  point.current_peak * std::sqrt(1.04 / 0.98), 1e-3);
  CHECK(m.json["drive"]["tolerances"]["frequency_low"].get<double>() == spread.frequency_low);
  CHECK(contains(m.text, "tolerances move frequency"));
}

TEST_CASE("litz wire: current density over the strands' copper, no skin to speak of") {
  const Outside outside("geometry by hand");
  const auto m =
      made(measured, "", "litz: {strands: 60, strand: 0.071 mm, bundle_diameter: 0.8 mm}, pitch: 1.5 mm");
  check_pages(m.text);
  const auto& coil = m.sheet.circuits.at(0).coils.at(0);
  const double copper = 60.0 * 0.25 * pi * 0.071e-3 * 0.071e-3;
  outside.matches("current density of litz on the sheet [A/m2]", coil.copper.current_density,
                  0.6 / std::sqrt(2.0) / copper, 1e-9);
  CHECK(m.sheet.circuits[0].point.resistance.skin < 1e-3 * m.sheet.circuits[0].point.resistance.dc);
  CHECK(m.json["drive"]["resistance_trust"]["winding"] == "spaced");
}

TEST_CASE("a close winding is solved, and a meter reads the flux its wires push out") {
  const auto close = made(measured, "", "wire: 1 mm, pitch: 1.068 mm");
  check_pages(close.text);
  CHECK(close.json["drive"]["resistance_trust"]["winding"] == "solved");
  CHECK(contains(close.text, "(close, solved)"));
  const auto& bench = close.sheet.circuits.at(0).bench;
  // Induced currents oppose the flux (Lenz), the more the thinner the skin against the wire: at 1 kHz, skin
  // twice the wire, next to nothing; at 100 kHz the computed inductance less some tenths of a per cent.
  const maps::CircuitView circuit = maps::circuits_of(close.plan.drive).front();
  const double room = close.scenario.ambient.temperature;
  const double low = circuit.load.inductance(1e3, room), high = circuit.load.inductance(1e5, room);
  CHECK(std::fabs(bench.readings[0].inductance / low - 1.0) < 2e-4);
  CHECK(bench.readings[2].inductance < high * (1.0 - 1e-3));
  CHECK(bench.readings[2].inductance > high * (1.0 - 0.05));
}

TEST_CASE("a flight's cautions are those of the sheet") {
  const auto m = made(bridge);
  CHECK(sheet::make_cautions(m.scenario, m.plan) == m.sheet.cautions);
}
