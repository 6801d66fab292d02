#include <cmath>
#include <stdexcept>
#include <string>

#include "models/air/gridded.hpp"
#include "sim/maps/air_grid_file.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/study/reader.hpp"
#include "sim/tune/readings.hpp"
#include "tests/fuzz/targets.hpp"

namespace driftglow::fuzz {
namespace {

std::string text_of(Bytes bytes) {
  return {bytes.begin(), bytes.end()};
}

const std::filesystem::path& base_file() {
  static const auto file = std::filesystem::path(DRIFTGLOW_SOURCE_DIR) / "configs/plankton_column.yaml";
  return file;
}

const scenario::Scenario& base() {
  static const auto read = scenario::read_scenario(base_file());
  return read;
}

}  // namespace

void scenario_target(Bytes text) {
  read_or_refused("fuzz.yaml", [&] {
    const auto read = scenario::parse_scenario(text_of(text), "fuzz.yaml");
    if (read.tags.empty() || !(read.vessel.inner_diameter > 0.0))
      throw std::logic_error("a scenario was taken that holds no vessel or no tags");
  });
}

void readings_target(Bytes text) {
  read_or_refused("fuzz.yaml", [&] {
    const auto read = tune::parse_readings(text_of(text), "fuzz.yaml", base(), base_file());
    for (const auto& reading : read.readings) {
      if (!std::isfinite(reading.value) || !(reading.uncertainty > 0.0))
        throw std::logic_error("a reading was taken that says nothing: " + reading.name);
    }
  });
}

void study_target(Bytes text) {
  read_or_refused("fuzz.yaml", [&] { study::parse_study(text_of(text), "fuzz.yaml", base(), base_file()); });
}

void air_csv_target(Bytes text) {
  constexpr double radius = 0.1, height = 0.3;
  const auto file = scratch() / "air.csv";
  write_file(file, text);
  read_or_refused(file.string(), [&] {
    const auto grid =
        maps::read_air_grid({file.string(), std::nullopt, 0.1, 0.0, std::nullopt}, radius, height);
    // The projection costs more than reading.
    if (grid.r.size() * grid.z.size() > 100) return;
    read_or_refused("", [&] {
      const auto air = air::project(grid);
      for (const double share : {0.0, 0.3, 0.99}) {
        const auto at = air.map.sample(numeric::Vec3<double>{share * radius, 0.0, share * height});
        if (!std::isfinite(at.u_W.x + at.u_W.y + at.u_W.z + at.sigma + at.epsilon_cbrt))
          throw std::logic_error("a grid was taken whose air is not finite");
      }
    });
  });
}

}  // namespace driftglow::fuzz
