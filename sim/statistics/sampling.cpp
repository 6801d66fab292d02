#include "sim/statistics/sampling.hpp"

#include <boost/random/sobol.hpp>
#include <boost/random/uniform_01.hpp>
#include <numeric>
#include <pcg_random.hpp>

#include "sim/statistics/sensitivity.hpp"

namespace driftglow::statistics {

Points sobol_points(std::size_t count, std::size_t axes) {
  boost::random::sobol engine(axes);
  boost::random::uniform_01<double> uniform;
  Points points(count, std::vector<double>(axes));
  for (auto& point : points)
    for (double& x : point) x = uniform(engine);
  return points;
}

Points latin_hypercube(std::size_t count, std::size_t axes, std::uint64_t seed) {
  pcg32 stream(seed);
  Points points(count, std::vector<double>(axes));
  std::vector<std::size_t> cells(count);
  for (std::size_t axis = 0; axis < axes; ++axis) {
    std::iota(cells.begin(), cells.end(), std::size_t{0});
    for (std::size_t i = count - 1; i > 0; --i)
      std::swap(cells[i], cells[drawn_index(stream, static_cast<std::uint32_t>(i + 1))]);
    for (std::size_t i = 0; i < count; ++i) {
      const double within = (static_cast<double>(stream()) + 0.5) * 0x1p-32;
      points[i][axis] = (static_cast<double>(cells[i]) + within) / static_cast<double>(count);
    }
  }
  return points;
}

}  // namespace driftglow::statistics
