#include "models/coil/coil_map.hpp"

#include <cmath>
#include <utility>
#include <vector>

#include "models/coil/turn_field.hpp"
#include "models/coil/uniform_draw.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

struct MeridianProbe {
  double r, z;
  MeridianFieldOverRadius exact;
};

double magnitude(double r, double radial_over_r, double axial) {
  return std::hypot(r * radial_over_r, axial);
}

// One jittered point in each cell of an even division of the reach, and as many on its outer edge as a row
// has, where the wires are nearest and the map is worst.
std::vector<MeridianProbe> draw_probes(std::span<const Turn> turns, Reach reach, std::uint64_t seed) {
  constexpr int divisions = 56;
  UniformDraw draw(seed);
  std::vector<MeridianProbe> probes;
  for (int i = 0; i <= divisions; ++i) {
    for (int j = 0; j < divisions; ++j) {
      const double r = i == divisions ? reach.radius : reach.radius * (i + draw()) / divisions;
      const double z = reach.low + (reach.high - reach.low) * (j + draw()) / divisions;
      probes.push_back({r, z, field_of(turns, r, z)});
    }
  }
  return probes;
}

double root_mean_square(const std::vector<MeridianProbe>& probes) {
  double sum = 0.0, weight = 0.0;
  for (const auto& p : probes) {
    const double B = magnitude(p.r, p.exact.radial_over_rho, p.exact.axial);
    sum += p.r * B * B;
    weight += p.r;
  }
  return std::sqrt(sum / weight);
}

double largest_error(const CoilMap& map, const std::vector<MeridianProbe>& probes) {
  double largest = 0.0;
  for (const auto& p : probes) {
    const auto got = map.field(p.r, p.z);
    const double error =
        magnitude(p.r, got.radial_over_r - p.exact.radial_over_rho, got.axial - p.exact.axial);
    largest =
        std::fmax(largest, error / map.reference(magnitude(p.r, p.exact.radial_over_rho, p.exact.axial)));
  }
  return largest;
}

}  // namespace

CoilMap::CoilMap(numeric::UniformAxis r, numeric::UniformAxis z, Eigen::MatrixXd radial_over_r,
                 Eigen::MatrixXd axial, double error, double rms_flux_density)
    : values_{std::move(radial_over_r), std::move(axial)}, error_(error), rms_(rms_flux_density) {
  if (r.first != 0.0) throw LogicError("a coil map starts on the axis");
  spline_ = numeric::BsplineMap(r, z, numeric::EdgeRule::even, values_);
}

double CoilMap::reference(double flux_density) const {
  return std::fmax(flux_density, 0.01 * rms_);
}

CoilMap CoilMap::computed(std::span<const Turn> turns, MapExtent extent, Reach reach, std::uint64_t seed,
                          double wanted_error) {
  if (!(extent.radius > 0.0 && extent.height > 0.0) || turns.empty())
    throw LogicError("a coil map without extent or turns");
  if (!(reach.radius > 0.0 && reach.radius <= extent.radius && reach.low >= 0.0 && reach.low < reach.high &&
        reach.high <= extent.height))
    throw LogicError("the tags' reach is not inside the coil map");
  for (const auto& turn : turns) {
    if (turn.radius <= extent.radius && turn.height >= 0.0 && turn.height <= extent.height)
      throw InputError(
          "a drive coil has turns inside the vessel; its inner diameter must be greater than the vessel's");
  }
  const auto probes = draw_probes(turns, reach, seed);
  const double rms = root_mean_square(probes);

  constexpr double most_nodes = 2e6;
  double step = extent.radius / 16.0;
  for (;;) {
    const int nr = std::max(4, static_cast<int>(std::lround(extent.radius / step)) + 1);
    const int nz = std::max(4, static_cast<int>(std::lround(extent.height / step)) + 1);
    const numeric::UniformAxis r{0.0, extent.radius / (nr - 1), nr}, z{0.0, extent.height / (nz - 1), nz};
    Eigen::MatrixXd radial_over_r(nr, nz), axial(nr, nz);
    for (int j = 0; j < nz; ++j) {
      for (int i = 0; i < nr; ++i) {
        const auto field = field_of(turns, r.at(i), z.at(j));
        radial_over_r(i, j) = field.radial_over_rho;
        axial(i, j) = field.axial;
      }
    }
    CoilMap map(r, z, std::move(radial_over_r), std::move(axial), 0.0, rms);
    map.error_ = largest_error(map, probes);
    if (map.error_ <= wanted_error || 2.25 * nr * nz > most_nodes) return map;
    step /= 1.5;
  }
}

}  // namespace driftglow::coil
