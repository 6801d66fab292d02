#pragma once

#include <string>

#include "sim/results/setting.hpp"

namespace driftglow::report {

// |B| in the plane y = 0 with vessel, coils and metal.
std::string field_map(const results::Setting& setting);

// Speed of the mean air in a plane through the axis, with stream lines.
std::string air_map(const results::Setting& setting);

// Stream function [m3/s] over 2 pi on the half section, by the trapezoidal rule from the axis: u_z r dr.
std::vector<double> stream_function(const results::Setting& setting);

}  // namespace driftglow::report
