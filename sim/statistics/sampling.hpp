#pragma once

#include <cstdint>
#include <vector>

namespace driftglow::statistics {

// Points in the unit cube, [point][axis].
using Points = std::vector<std::vector<double>>;

// The first points of Sobol's sequence [sobol1967] with the direction numbers of Boost.Random, without the
// origin.
Points sobol_points(std::size_t count, std::size_t axes);

// Latin hypercube [mckay1979]: each axis cut into `count` cells of which each holds one point, at random
// places.
Points latin_hypercube(std::size_t count, std::size_t axes, std::uint64_t seed);

}  // namespace driftglow::statistics
