#include "sim/tune/tune.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>

#include "models/error.hpp"
#include "sim/flight/draws.hpp"
#include "sim/flight/instruction_set.hpp"
#include "sim/flight/random.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/tune/bench_model.hpp"
#include "sim/tune/tune_json.hpp"
#include "tests/relative.hpp"
#include "tests/tune/demo.hpp"

using namespace driftglow;
using namespace driftglow::tune;

namespace {

// Five values, each with a reading that bears on it; numbers of the readings are filled in below.
const std::string five =
    "unknowns:\n"
    "  - {key: drive.driver.capacitor, tolerance: 5 %}\n"
    "  - {key: drive.driver.supply, tolerance: 1 V}\n"
    "  - {key: \"tags[plankton].receiver.capacitor\"}\n"
    "  - {key: air.flow_rate, tolerance: 15 %}\n"
    "  - {key: \"tags[plankton].body.drag.frontal_area\", tolerance: 15 %}\n"
    "readings:\n"
    "  - {name: drive, resonance: 99 kHz, uncertainty: 0.3 %}\n"
    "  - {name: search coil, turns: 10, area: 12.6 cm2, search_coil_voltage: 270 mV, uncertainty: 2 %}\n"
    "  - {name: tag, tag: plankton, tags_measured: 10, resonance: 102 kHz, uncertainty: 0.3 %}\n"
    "  - {name: wind, place: [0 mm, 0 mm, 100 mm], air_speed: 3 m/s, uncertainty: 4 %}\n"
    "  - {name: drop, terminal_speed: 2 m/s, uncertainty: 4 %}\n";

const TuneSettings without_flights{1, flight::InstructionSet::scalar, Flights::left_out};

Tuned tuned(const Readings& readings) {
  return *tune::tune(readings, without_flights, {}, [](const std::string&) {});
}

// What would be read if these were the true values.
void read_off(Readings& readings, const std::vector<double>& truth) {
  BenchModel model(readings.scenario_at(truth));
  for (auto& reading : readings.readings) reading.value = model.predict(reading.subject);
}

class Normal {
 public:
  explicit Normal(std::uint64_t seed) : stream_(flight::random_stream(seed, 0, 0, flight::Purpose::drive)) {}
  double operator()() {
    const double r = std::sqrt(-2.0 * std::log(1.0 - flight::uniform(stream_)));
    return r * std::cos(2.0 * std::numbers::pi * flight::uniform(stream_));
  }

 private:
  pcg32 stream_;
};

}  // namespace

TEST_CASE("exact readings of other values bring these values") {
  auto readings = parsed(five);
  const std::vector<double> truth{12.3, 24.6, 33.4, 0.075, 6.6};
  read_off(readings, truth);
  for (auto& reading : readings.readings) {
    reading.uncertainty *= 1e-3;
    reading.tags_measured = 1000000000;
  }
  const auto found = tuned(readings);
  REQUIRE(found.unknowns.size() == 5);
  for (std::size_t k = 0; k < truth.size(); ++k) {
    CAPTURE(found.unknowns[k].key);
    CHECK(found.unknowns[k].constrained());
    // The prior pulls by the square of the deviations' ratio, far less than this.
    CHECK(std::fabs(found.unknowns[k].after - truth[k]) < 0.05 * found.unknowns[k].prior_deviation);
  }
  for (const auto& reading : found.readings) CHECK(reading.after == relative(reading.value, 1e-3));
  CHECK(found.findings.unexplained.empty());
  CHECK(found.findings.contradictions.empty());
}

// 95 % intervals over 200 truths drawn from the priors: the share that covers is binomial with 200 x 0.95,
// standard error 1.5 %; 90 to 99 % are 3.2 and 2.6 of them. Intervals a third too narrow
// would cover 81 %.
TEST_CASE("95 % intervals cover made-up truths") {
  const auto readings = parsed(five);
  Normal normal(20261126);
  constexpr int tries = 200;
  std::vector<int> covered(readings.unknowns.size(), 0);
  int flagged = 0;
  BenchModel nominal(readings.base);
  std::vector<double> scatter;
  for (const auto& reading : readings.readings)
    scatter.push_back(nominal.scatter(reading.subject, reading.tags_measured));
  for (int i = 0; i < tries; ++i) {
    std::vector<double> truth;
    for (const auto& unknown : readings.unknowns)
      truth.push_back(unknown.value + unknown.deviation() * normal());
    auto made_up = readings;
    read_off(made_up, truth);
    for (std::size_t k = 0; k < made_up.readings.size(); ++k)
      made_up.readings[k].value += std::hypot(made_up.readings[k].uncertainty, scatter[k]) * normal();
    const auto found = tuned(made_up);
    for (std::size_t k = 0; k < truth.size(); ++k)
      if (std::fabs(found.unknowns[k].after - truth[k]) <= normal_95 * found.unknowns[k].deviation)
        ++covered[k];
    if (!warnings_of(found).empty()) ++flagged;
  }
  for (std::size_t k = 0; k < covered.size(); ++k) {
    CAPTURE(readings.unknowns[k].place.path);
    CHECK(covered[k] >= 0.90 * tries);
    CHECK(covered[k] <= 0.99 * tries);
  }
  // One in a hundred by readings that stand out, another by all together.
  CHECK(flagged <= 12);
}

TEST_CASE("what the readings do not bear on is named") {
  auto readings = parsed(
      "unknowns:\n"
      "  - {key: drive.driver.capacitor, tolerance: 5 %}\n"
      "  - {key: air.circulation, tolerance: 20 %}\n"
      "readings:\n"
      "  - {name: drive, resonance: 99 kHz, uncertainty: 0.3 %}\n");
  read_off(readings, {12.1, 1.8});
  const auto found = tuned(readings);
  CHECK(found.unknowns[0].constrained());
  CHECK_FALSE(found.unknowns[1].constrained());
  CHECK(found.unknowns[1].deviation == relative(found.unknowns[1].prior_deviation, 1e-6));
  CHECK(found.unknowns[1].after == 1.8);
  const auto warnings = warnings_of(found);
  REQUIRE(warnings.size() == 1);
  CHECK(warnings[0] ==
        "These readings do not constrain `air.circulation`: what is known of it is still the tolerance");
}

TEST_CASE("two unknowns that one reading ties together are correlated, and neither is found out alone") {
  auto readings = parsed(
      "unknowns:\n"
      "  - {key: drive.driver.supply, tolerance: 1 V}\n"
      "  - {key: drive.driver.drop, tolerance: 1 V}\n"
      "readings:\n"
      "  - {name: search coil, turns: 10, area: 12.6 cm2, search_coil_voltage: 270 mV, uncertainty: 0.2 "
      "%}\n");
  read_off(readings, {24.4, 0.6});
  const auto found = tuned(readings);
  // The field follows supply - drop: of two equal priors half the sum stays open, so the correlation goes to
  // +1 and each deviation to 1/sqrt(2).
  CHECK(found.correlations()(0, 1) > 0.97);
  CHECK(found.unknowns[0].deviation / found.unknowns[0].prior_deviation ==
        relative(1.0 / std::sqrt(2.0), 0.02));
  CHECK(found.unknowns[0].after - found.unknowns[1].after == relative(23.8, 2e-3));
}

TEST_CASE("contradictory readings are flagged, and one that nothing explains") {
  auto readings = parsed(
      "unknowns:\n"
      "  - {key: air.flow_rate, tolerance: 30 %}\n"
      "  - {key: drive.driver.capacitor, tolerance: 5 %}\n"
      "readings:\n"
      "  - {name: wind low, place: [0 mm, 0 mm, 100 mm], air_speed: 3 m/s, uncertainty: 2 %}\n"
      "  - {name: wind high, place: [0 mm, 0 mm, 200 mm], air_speed: 3 m/s, uncertainty: 2 %}\n"
      "  - {name: drive, resonance: 99 kHz, uncertainty: 0.3 %}\n");
  read_off(readings, {0.07, 12.0});
  CHECK(warnings_of(tuned(readings)).empty());
  readings.readings[0].value *= 1.2;
  const auto pair = tuned(readings);
  REQUIRE(pair.findings.contradictions.size() == 1);
  CHECK(shown(pair, pair.findings.data[pair.findings.contradictions[0].first]) == "the reading `wind low`");
  CHECK(shown(pair, pair.findings.data[pair.findings.contradictions[0].second]) == "the reading `wind high`");
  CHECK(warnings_of(pair).front().find("contradict each other") != std::string::npos);

  // Far outside what the capacitor's tolerance leaves: reading against tolerance.
  read_off(readings, {0.07, 12.0});
  readings.readings[2].value *= 1.3;
  const auto against = tuned(readings);
  REQUIRE(against.findings.contradictions.size() == 1);
  CHECK(shown(against, against.findings.data[against.findings.contradictions[0].second]) ==
        "the tolerance of `drive.driver.capacitor`");
}

TEST_CASE("a reading that the scenario cannot give at all is told with its place") {
  const auto readings = parsed(
      "unknowns: [{key: drive.driver.drop, tolerance: 0.1 V}]\n"
      "readings:\n"
      "  - {name: hand, tag: plankton, place: [0 mm, 0 mm, 4000 mm], axis: [0, 0, 1], first_light_distance: "
      "10 mm,\n"
      "     uncertainty: 3 mm}\n");
  CHECK_THROWS_WITH_AS(
      tuned(readings),
      "bench.yaml:3:102: readings[1].first_light_distance: in the scenario as it is the tag lights "
      "nowhere there; expected a scenario in which it does, so that there is something to correct",
      InputError);
}
