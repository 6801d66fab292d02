#pragma once

#include <filesystem>
#include <optional>

#include "models/air/air_map.hpp"
#include "models/air/operating_point.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::maps {

// The air of a scenario: flow, closed form, map.
struct AirState {
  double density;                                // kg/m3
  double dynamic_viscosity;                      // Pa s
  std::optional<air::OperatingPoint> fan_point;  // with a fan
  air::Column column;
  air::AirMap map;
};

// Throws InputError when the fan cannot carry the tags or the column's values do not go together.
AirState make_air(const scenario::Scenario& scenario);

// air.h5 of interface.md: axes, mean velocity, k, epsilon, stream function.
void write_air(const AirState& air, const scenario::Scenario& scenario, const std::string& program_version,
               const std::filesystem::path& path, const store::Run& run);

}  // namespace driftglow::maps
