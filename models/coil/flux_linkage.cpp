#include "models/coil/flux_linkage.hpp"

#include <Eigen/Geometry>
#include <cmath>

#include "models/coil/uniform_draw.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using constant::pi;

// Flux linkage per ampere by a 4 x 12 product rule (Gauss-Legendre in the square of the radius, even in
// angle) on each turn's disc: exact to degree 7.
double flux_by_quadrature(const CoilMap& map, std::span<const Turn> receiver, double centre_offset,
                          const ReceiverPlace<double>& at) {
  constexpr double node[4] = {0.06943184420297371, 0.33000947820757187, 0.66999052179242813,
                              0.93056815579702629};
  constexpr double weight[4] = {0.17392742256872693, 0.32607257743127307, 0.32607257743127307,
                                0.17392742256872693};
  constexpr int angles = 12;
  // Axes across n from whichever base vector is far from it; not the branchless pair of the rule under test.
  const Eigen::Vector3d n(at.n_r, at.n_t, at.n_z);
  const Eigen::Vector3d first = n.unitOrthogonal(), second = n.cross(first);
  double flux = 0.0;
  for (const auto& turn : receiver) {
    const Eigen::Vector3d centre = Eigen::Vector3d(at.r, 0.0, at.z) + (turn.height - centre_offset) * n;
    double mean = 0.0;
    for (int i = 0; i < 4; ++i) {
      const double radius = turn.radius * std::sqrt(node[i]);
      for (int j = 0; j < angles; ++j) {
        const double angle = 2.0 * pi * j / angles;
        const Eigen::Vector3d p = centre + radius * (std::cos(angle) * first + std::sin(angle) * second);
        const auto field = map.field(std::hypot(p.x(), p.y()), p.z());
        mean += weight[i] / angles *
                (field.radial_over_r * (n.x() * p.x() + n.y() * p.y()) + n.z() * field.axial);
      }
    }
    flux += turn.weight * pi * turn.radius * turn.radius * mean;
  }
  return flux;
}

}  // namespace

FluxMoments flux_moments(std::span<const Turn> receiver) {
  if (receiver.empty()) throw LogicError("a receiver coil without turns");
  double area = 0.0, first_moment = 0.0, fourth = 0.0;
  for (const auto& turn : receiver) {
    const double part = turn.weight * pi * turn.radius * turn.radius;
    area += part;
    first_moment += part * turn.height;
    fourth += part * turn.radius * turn.radius;
  }
  FluxMoments moments{area, 0.0, 0.0, std::sqrt(fourth / area), first_moment / area};
  for (const auto& turn : receiver) {
    const double offset = turn.height - moments.centre_offset;
    moments.axial_spread += turn.weight * pi * turn.radius * turn.radius * 0.5 * offset * offset;
  }
  moments.curvature = moments.axial_spread - fourth / 8.0;
  return moments;
}

FluxRuleChoice choose_flux_rule(const CoilMap& map, std::span<const Turn> receiver, Reach reach,
                                std::uint64_t seed) {
  const FluxMoments moments = flux_moments(receiver);
  UniformDraw draw(seed);
  constexpr int places = 1500;
  double curvature_error = 0.0, seven_point_error = 0.0;
  for (int i = 0; i < places; ++i) {
    // Every second place lies on the outer edge, where the wires are nearest.
    const double r = reach.radius * (i % 2 == 0 ? std::sqrt(draw()) : 1.0);
    const double z = reach.low + (reach.high - reach.low) * draw();
    const double n_z = 2.0 * draw() - 1.0, across = std::sqrt(1.0 - n_z * n_z), azimuth = 2.0 * pi * draw();
    const ReceiverPlace<double> at{r, z, across * std::cos(azimuth), across * std::sin(azimuth), n_z};
    const auto field = map.field(r, z);
    const double scale = moments.area_turns * map.reference(std::hypot(r * field.radial_over_r, field.axial));
    const double exact = flux_by_quadrature(map, receiver, moments.centre_offset, at);
    curvature_error = std::fmax(curvature_error, std::fabs(flux_curvature(map, moments, at) - exact) / scale);
    seven_point_error =
        std::fmax(seven_point_error, std::fabs(flux_seven_point(map, moments, at) - exact) / scale);
  }
  const bool curvature = curvature_error <= 0.003 || curvature_error <= seven_point_error;
  return {curvature ? FluxRule::curvature : FluxRule::seven_point, curvature_error, seven_point_error};
}

}  // namespace driftglow::coil
