#include "sim/study/study.hpp"

#include <doctest/doctest.h>

#include "models/error.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/reader.hpp"

using namespace driftglow;
using namespace driftglow::study;

namespace {

Study read(const std::string& vary, const std::string& more = "") {
  static const auto base =
      scenario::read_scenario(std::string(DRIFTGLOW_SOURCE_DIR) + "/configs/plankton_column.yaml");
  return parse_study(
      "scenario: x.yaml\nvary:\n" + vary + "outputs: [{name: q, path: sheet.drive.Q}]\n" + more, "s.yaml",
      base, std::string(DRIFTGLOW_SOURCE_DIR) + "/configs/plankton_column.yaml");
}

}  // namespace

TEST_CASE("a number and its unit") {
  CHECK(number_and_unit("24 V")->number == 24.0);
  CHECK(number_and_unit("24 V")->unit == "V");
  CHECK(number_and_unit("-1.5e-3")->number == -1.5e-3);
  CHECK(number_and_unit("5%")->unit == "%");
  CHECK_FALSE(number_and_unit("AWG 32"));
  CHECK_FALSE(number_and_unit("inf"));
  CHECK_FALSE(number_and_unit(""));
  CHECK(written(0.1 + 0.2, "mm") == "0.3 mm");
}

TEST_CASE("a grid runs through all levels, the last key fastest, and links move together") {
  const auto study = read(
      "  - {name: spacing, values: [140 mm, 150 mm], links: [{key: 'drive.coils[lower].height', factor: "
      "-0.5, "
      "offset: 160 mm}, {key: 'drive.coils[upper].height', factor: 0.5, offset: 160 mm}]}\n"
      "  - {key: drive.driver.supply, from: 20 V, to: 26 V, steps: 3}\n");
  const auto designs = study.planned();
  REQUIRE(designs.size() == 6);
  const auto at = [&](std::size_t i) {
    return std::get<scenario::CoilDrive>(study.scenario_at(designs[i]).drive);
  };
  CHECK(at(0).coils[0].centre[2] == doctest::Approx(0.090));
  CHECK(at(0).coils[1].centre[2] == doctest::Approx(0.230));
  CHECK(at(3).coils[0].centre[2] == doctest::Approx(0.085));
  CHECK(std::get<driver::CurrentFedPushPull>(at(1).driver).supply_voltage == doctest::Approx(23.0));
  CHECK(std::get<driver::CurrentFedPushPull>(at(5).driver).supply_voltage == doctest::Approx(26.0));
  CHECK(study.shown(0, designs[5][0]) == "150 mm");
}

TEST_CASE("samples stay in their ranges, logarithmic ones by ratio, counts are whole") {
  const auto study = read(
      "  - {key: 'tags[plankton].receiver.capacitor', from: 10 nF, to: 1000 nF, scale: logarithmic}\n"
      "  - {key: 'tags[plankton].count', values: [12]}\n"
      "  - {name: white, from: 1, to: 11, links: [{key: 'tags[plankton].mix.warm-white'}, {key: "
      "'tags[plankton].mix.yellow-green', factor: -1, offset: 12}]}\n",
      "design: {kind: latin_hypercube, samples: 30}\n");
  int below = 0;
  for (const auto& design : study.planned()) {
    const auto scenario = study.scenario_at(design);
    const double capacitance = std::get<scenario::CircuitReceiver>(scenario.tags[0].receiver).capacitance;
    CHECK(capacitance >= 10e-9);
    CHECK(capacitance <= 1000e-9);
    below += capacitance < 100e-9;
    CHECK(scenario.tags[0].mix[0].second + scenario.tags[0].mix[1].second == 12);
  }
  CHECK(below == 15);  // one point in each of 30 cells of equal ratio
}

TEST_CASE("a sensitivity sample has A, B and A with one axis of B") {
  const auto study = read(
      "  - {key: drive.driver.supply, from: 20 V, to: 28 V}\n"
      "  - {key: air.circulation, from: 1, to: 2}\n",
      "design: {kind: sensitivity, samples: 5}\n");
  const auto designs = study.planned();
  REQUIRE(designs.size() == 20);
  for (int i = 0; i < 5; ++i) {
    CHECK(designs[10 + i] == Coordinates{designs[5 + i][0], designs[i][1]});
    CHECK(designs[15 + i] == Coordinates{designs[i][0], designs[5 + i][1]});
  }
}

TEST_CASE("a design that makes no scenario is told with the key") {
  const auto study = read("  - {key: 'drive.coils[lower].inner_diameter', values: [250 mm, 150 mm]}\n");
  CHECK_NOTHROW(study.scenario_at({0.0}));
  CHECK_THROWS_AS(study.scenario_at({1.0}), InputError);
}
