#pragma once

#include <filesystem>

#include "sim/scenario/check.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::scenario {

struct AirRoom {
  double radius;       // m, at the floor mesh
  double height;       // m, up to the lid
  double wall_height;  // m, up to the wall's edge
  double lid_radius;   // m, of the wall at the lid
};

// The block `air`; `folder` is the scenario's, where its files are looked for.
Air read_air(const Block& block, const AirRoom& room, const std::filesystem::path& folder, Faults& faults);

}  // namespace driftglow::scenario
