#include "sim/tune/readings.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "models/error.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/relative.hpp"
#include "tests/tune/demo.hpp"

using namespace driftglow;
using namespace driftglow::tune;

// tests/bad_readings: one fault a file, and beside it the sentence that it must bring, without the folder.
// All about the demo, but those that name another scenario in their first line: `# about <file of configs>`.
TEST_CASE("each bad file of readings brings its sentence and no other") {
  const auto folder = source / "tests/bad_readings";
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().extension() == ".yaml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  REQUIRE(files.size() >= 30);
  for (const auto& file : files) {
    CAPTURE(file.filename().string());
    auto expected_file = file;
    expected_file.replace_extension(".expected");
    std::ostringstream expected;
    expected << std::ifstream(expected_file, std::ios::binary).rdbuf();
    std::string first;
    std::ifstream stream(file);
    std::getline(stream, first);
    const std::string about = "# about ";
    const auto base =
        source / "configs" / (first.starts_with(about) ? first.substr(about.size()) : "plankton_column.yaml");
    std::string sentence = "no fault";
    try {
      read_readings(file, scenario::read_scenario(base), base);
    } catch (const InputError& error) {
      sentence = error.what();
    }
    if (sentence.starts_with(folder.string() + "/")) sentence.erase(0, folder.string().size() + 1);
    CHECK(sentence.find('\n') == std::string::npos);
    CHECK(sentence + "\n" == expected.str());
  }
}

TEST_CASE("priors: relative, in a unit, in points of a share, and the scenario's own") {
  const auto r = parsed(
      "unknowns:\n"
      "  - {key: drive.driver.capacitor, tolerance: 5 %}\n"
      "  - {key: \"drive.coils[lower].height\", tolerance: 0.2 cm}\n"
      "  - {key: air.side_vents.fraction, tolerance: 5 %}\n"
      "  - {key: air.circulation, tolerance: 0.4}\n"
      "  - {key: \"tags[plankton].receiver.capacitor\"}\n"
      "  - {key: ambient.temperature, tolerance: 2 degC}\n"
      "readings:\n"
      "  - {name: a, resonance: 100 kHz, uncertainty: 1 %}\n");
  REQUIRE(r.unknowns.size() == 6);
  CHECK(r.unknowns[0].unit == "nF");
  CHECK(r.unknowns[0].value == 12.0);
  CHECK(r.unknowns[0].tolerance == relative(0.6, 1e-12));
  CHECK(r.unknowns[0].deviation() == relative(0.6 / std::sqrt(3.0), 1e-12));  // JCGM 100, 4.3.7
  CHECK(r.unknowns[0].least == relative(0.01, 1e-9));                         // 10 pF
  CHECK(r.unknowns[1].tolerance == relative(2.0, 1e-9));                      // mm
  CHECK(r.unknowns[2].tolerance == relative(5.0, 1e-9));                      // points
  CHECK(r.unknowns[3].tolerance == 0.4);
  CHECK(r.unknowns[4].tolerance == relative(0.66, 1e-9));  // 2 % of 33 nF
  CHECK(r.unknowns[5].tolerance == relative(2.0, 1e-9));
  CHECK(r.unknowns[5].least == relative(-30.0, 1e-9));
  CHECK(r.readings[0].uncertainty == relative(1e3, 1e-12));
  CHECK(r.replicates == 32);
}

TEST_CASE("what a reading is about") {
  const auto r = parsed(
      "unknowns: [{key: air.flow_rate, tolerance: 10 %}]\n"
      "readings:\n"
      "  - {name: one coil, coil: upper, at: 10 kHz, inductance: 104 uH, uncertainty: 1 uH}\n"
      "  - {name: duty, fit: warm-white, duty: 24 %, uncertainty: 2 %}\n"
      "  - {name: wind, place: [0 mm, 0 mm, 200 mm], axis: [0, 0, 2], air_speed: 2 m/s, uncertainty: 4 %}\n"
      "  - {name: all wind, place: [0 mm, 10 mm, 200 mm], air_speed: 2 m/s, uncertainty: 4 %}\n"
      "  - {name: hand, coil: upper, tag: plankton, tags_measured: 3, first_light_distance: 91 mm, "
      "uncertainty: 3 mm}\n"
      "  - {name: drop, falls: along, terminal_speed: 2 m/s, uncertainty: 3 %}\n");
  REQUIRE(r.readings.size() == 6);
  CHECK(r.readings[0].subject.coil == 1);
  CHECK_FALSE(r.readings[0].subject.tag);
  CHECK(r.readings[0].subject.at == 1e4);
  CHECK(r.readings[1].subject.tag == 0);
  CHECK(r.readings[1].subject.fit == 1);
  CHECK(r.readings[1].uncertainty == relative(0.02, 1e-12));  // points, not a share of the duty
  CHECK(r.readings[2].subject.sees == Subject::Sees::axis);
  CHECK(r.readings[2].subject.axis[2] == 1.0);
  CHECK(r.readings[3].subject.sees == Subject::Sees::all);
  CHECK(r.readings[4].tags_measured == 3);
  CHECK(r.readings[5].subject.falls == Falls::along);
}

TEST_CASE("the scenario at other values") {
  const auto r = parsed(
      "unknowns:\n"
      "  - {key: drive.driver.supply, tolerance: 1 V}\n"
      "  - {key: \"drive.coils[upper].height\", tolerance: 2 mm}\n"
      "readings: [{name: a, resonance: 100 kHz, uncertainty: 1 %}]\n");
  const auto scenario = r.scenario_at({23.456789012345678, 236.5});
  const auto& drive = std::get<scenario::CoilDrive>(scenario.drive);
  CHECK(std::get<scenario::CurrentFedPushPull>(drive.driver).supply_voltage == 23.456789012345678);
  CHECK(drive.coils[1].centre[2] == relative(0.2365, 1e-12));
  CHECK_THROWS_AS(r.scenario_at({-1.0, 235.0}), InputError);
}
