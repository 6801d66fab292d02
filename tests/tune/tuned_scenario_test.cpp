#include "sim/tune/tuned_scenario.hpp"

#include <doctest/doctest.h>

#include <filesystem>

#include "models/error.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/relative.hpp"
#include "tests/tune/demo.hpp"

using namespace driftglow;
using namespace driftglow::tune;

namespace {

Tuned made_up(const Readings& readings, const std::vector<double>& values,
              const std::vector<double>& deviations, double correlation) {
  Tuned tuned{};
  const auto n = static_cast<Eigen::Index>(values.size());
  tuned.covariance = Eigen::MatrixXd::Zero(n, n);
  for (std::size_t k = 0; k < values.size(); ++k) {
    const auto& unknown = readings.unknowns[k];
    tuned.unknowns.push_back(
        {unknown.place.path, unknown.unit, unknown.value, unknown.deviation(), values[k], deviations[k]});
    for (std::size_t j = 0; j < values.size(); ++j)
      tuned.covariance(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(j)) =
          deviations[k] * deviations[j] * (j == k ? 1.0 : correlation);
  }
  return tuned;
}

}  // namespace

TEST_CASE("only the tuned values change in the user's text, and a block follows") {
  const auto base = demo();
  const auto readings = parse_readings(
      "unknowns:\n"
      "  - {key: drive.driver.capacitor, tolerance: 5 %}\n"
      "  - {key: \"drive.coils[lower].height\", tolerance: 2 mm}\n"
      "  - {key: air.turbulence.intensity, tolerance: 3 %}\n"
      "readings: [{name: a, resonance: 100 kHz, uncertainty: 1 %}]\n",
      "bench.yaml", base, demo_file);
  const auto text = tuned_scenario(readings, made_up(readings, {12.3456, 84.2, 14.0}, {0.05, 0.5, 1.0}, 0.25),
                                   demo_file.parent_path());
  auto expected = base.text;
  const auto put = [&](const std::string& from, const std::string& to) {
    const auto at = expected.find(from);
    REQUIRE(at != std::string::npos);
    expected.replace(at, from.size(), to);
  };
  put("capacitor: 12 nF", "capacitor: 12.3456 nF");
  put("height: 85 mm", "height: 84.200 mm");
  put("intensity: 15 %", "intensity: 14.00 %");
  REQUIRE(text.starts_with(expected));
  CHECK(text.substr(expected.size()) ==
        "\nformat: 1\n"
        "\n# By driftglow tune: what the readings leave uncertain. Without this block the duty's interval is "
        "of "
        "chance alone.\n"
        "tuned:\n"
        "  readings: \"bench.yaml\"\n"
        "  unknowns:\n"
        "    - key: \"drive.driver.capacitor\"\n"
        "      value: 12.3456 nF\n"
        "      uncertainty: 0.05 nF\n"
        "    - key: \"drive.coils[lower].height\"\n"
        "      value: 84.200 mm\n"
        "      uncertainty: 0.5 mm\n"
        "      correlations: [0.2500]\n"
        "    - key: \"air.turbulence.intensity\"\n"
        "      value: 14.00 %\n"
        "      uncertainty: 1 %\n"
        "      correlations: [0.2500, 0.2500]\n");

  const auto again = scenario::parse_scenario(text, "tuned.yaml");
  REQUIRE(again.tuned);
  REQUIRE(again.tuned->values.size() == 3);
  CHECK(again.tuned->readings == "bench.yaml");
  CHECK(again.tuned->values[1].key == "drive.coils[lower].height");
  CHECK(again.tuned->values[1].value == 84.2);
  CHECK(again.tuned->values[2].correlations == std::vector{0.25, 0.25});
  CHECK(std::get<scenario::CoilDrive>(again.drive).coils[0].centre[2] == relative(0.0842, 1e-12));
}

TEST_CASE("a drive's own tolerance gives way to what was measured, a tag's stays") {
  auto text = scenario::file_text(demo_file, "scenario");
  const std::string kind = "kind: current_fed_push_pull\n";
  text.insert(text.find(kind) + kind.size(), "    tolerances: {capacitance: 5 %}  # of the box\n");
  const auto base = scenario::parse_scenario(text, "demo.yaml");
  const auto readings = parse_readings(
      "unknowns:\n"
      "  - {key: drive.driver.capacitor}\n"
      "  - {key: \"tags[plankton].receiver.capacitor\"}\n"
      "readings: [{name: a, resonance: 100 kHz, uncertainty: 1 %}]\n",
      "bench.yaml", base, "demo.yaml");
  CHECK(readings.unknowns[0].tolerance == relative(0.6, 1e-12));
  const auto tuned = tuned_scenario(readings, made_up(readings, {12.1, 33.0}, {0.1, 0.2}, 0.0), ".");
  CHECK(tuned.find("tolerances: {capacitance: 0 %}  # of the box") != std::string::npos);
  CHECK(tuned.find("tolerances: {inductance: 2 %, capacitance: 2 %, led_voltage: 30 mV}") !=
        std::string::npos);
}

TEST_CASE("rounding loses less than a hundredth of the deviation") {
  CHECK(rounded(12.345678, 0.05) == "12.3457");
  CHECK(rounded(12345.678, 20.0) == "12345.7");
  CHECK(rounded(12345.678, 1e4) == "12346");
  CHECK(rounded(0.0712345678, 1e-4) == "0.071235");
}
