#pragma once

#include <array>
#include <span>
#include <vector>

namespace driftglow::report {

// In node numbers, fractions between: (first axis, second axis).
using ContourLine = std::vector<std::array<double, 2>>;

// Border: what lies beyond the grid. below: lines along the grid's edge close the region of values >= level,
// so that the lines are the outlines of it (to fill, by the even-odd rule); open: lines end at the edge.
enum class Border { below, open };

// Lines of value = level on a grid of nodes [first][second], straight between the nodes, higher values on
// their left (first axis right, second up); of a saddle the mean of its four corners decides. A closed line
// ends where it began.
std::vector<ContourLine> contours(std::span<const double> values, std::array<int, 2> nodes, double level,
                                  Border border);

}  // namespace driftglow::report
