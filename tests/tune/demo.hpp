#pragma once

#include <filesystem>
#include <string>

#include "sim/scenario/reader.hpp"
#include "sim/tune/readings.hpp"

// The demo and readings of it.
namespace driftglow::tune {

inline const std::filesystem::path source = DRIFTGLOW_SOURCE_DIR;
inline const std::filesystem::path demo_file = source / "configs/plankton_column.yaml";

inline scenario::Scenario demo() {
  return scenario::read_scenario(demo_file);
}

inline Readings parsed(const std::string& text) {
  return parse_readings(text, "bench.yaml", demo(), demo_file);
}

}  // namespace driftglow::tune
