#pragma once

#include <string>

#include "models/air/gridded.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::maps {

// The user's grid of air in a vessel of this radius and height [m], from CSV or HDF5 by the file's first
// bytes. CSV: a header "r [mm], z [mm], u_r [m/s], u_theta [m/s], u_z [m/s], k [m2/s2], epsilon [m2/s3]",
// columns in any order, u_r, k and epsilon may be left out; one node a line in any order; lines that begin
// with # and empty ones are skipped. HDF5: laid out as air.h5, in SI. Throws InputError: "<file>:<line>:
// <what is wrong>; expected <what would be right>".
air::AirGrid read_air_grid(const scenario::GriddedAir& given, double radius, double height);

// Digest of the file's bytes.
std::string file_digest(const std::string& file);

}  // namespace driftglow::maps
