#pragma once

#include <string_view>
#include <utility>
#include <vector>

namespace driftglow::library {

// Bare diameter [m] of the American wire gauge: d = 0.127 mm * 92^((36 - gauge)/39) (ASTM B258), gauge 0
// to 56. Throws LogicError outside.
double gauge_diameter(int gauge);

// Largest overall diameter [m] of grade 1 enamelled copper wire of the bare diameter [m] (IEC 60317-0-1): the
// build (overall minus bare) is interpolated linearly between the table's diameters, and outside the table
// kept in the ratio of its end. Bare diameter > 0; throws LogicError otherwise.
double enamelled_diameter(double bare_diameter);

// The table behind it: (bare, overall) [m], rising.
const std::vector<std::pair<double, double>>& enamelled_diameter_table();

}  // namespace driftglow::library
