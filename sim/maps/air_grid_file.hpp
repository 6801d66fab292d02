#pragma once

#include <string>

#include "models/air/gridded.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::maps {

// The user's grid of air in a vessel of this radius and height [m]: u_r, k and epsilon may be left out; HDF5
// is laid out as air.h5. Throws InputError as read_node_file().
air::AirGrid read_air_grid(const scenario::GriddedAir& given, double radius, double height);

}  // namespace driftglow::maps
