#include "models/coil/volume_linkage.hpp"

#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "models/coil/uniform_draw.hpp"
#include "models/constants.hpp"

namespace driftglow::coil {
namespace {

using constant::pi;
using Eigen::Vector3d;

// Flux by a 4 x 12 product rule (Gauss-Legendre in the square of the radius, even in angle) on each turn's
// disc: exact to degree 7.
Eigen::RowVectorXd flux_by_quadrature(const VolumeMap& map, std::span<const Turn> receiver,
                                      double centre_offset, const Vector3d& place, const Vector3d& n) {
  using Rule = boost::math::quadrature::gauss<double, 4>;  // half of its nodes, on (-1, 1)
  constexpr int angles = 12;
  const Across frame = across(n);
  Eigen::RowVectorXd flux = Eigen::RowVectorXd::Zero(map.parts());
  for (const auto& turn : receiver) {
    const Vector3d centre = place + (turn.height - centre_offset) * n;
    for (std::size_t i = 0; i < Rule::abscissa().size(); ++i) {
      for (const double side : {-1.0, 1.0}) {
        const double radius = turn.radius * std::sqrt(0.5 + 0.5 * side * Rule::abscissa()[i]);
        for (int j = 0; j < angles; ++j) {
          const double angle = 2.0 * pi * j / angles;
          const Vector3d p =
              centre + radius * (std::cos(angle) * frame.first + std::sin(angle) * frame.second);
          flux += turn.weight * pi * turn.radius * turn.radius * 0.5 * Rule::weights()[i] / angles *
                  (n.transpose() * map.field(p));
        }
      }
    }
  }
  return flux;
}

template <int parts>
FluxRuleChoice choose(const VolumeMap& map, std::span<const Turn> receiver, Reach reach, std::uint64_t seed) {
  const FluxMoments moments = flux_moments(receiver);
  UniformDraw draw(seed);
  constexpr int places = 1500;
  FluxRuleChoice choice{FluxRule::curvature, 0.0, 0.0};
  for (int i = 0; i < places; ++i) {
    // Every second place lies on the outer edge, where the wires are nearest.
    const double r = reach.radius * (i % 2 == 0 ? std::sqrt(draw()) : 1.0), around = 2.0 * pi * draw();
    const Vector3d p(r * std::cos(around), r * std::sin(around),
                     reach.low + (reach.high - reach.low) * draw());
    const double n_z = 2.0 * draw() - 1.0, level = std::sqrt(1.0 - n_z * n_z), azimuth = 2.0 * pi * draw();
    const Vector3d n(level * std::cos(azimuth), level * std::sin(azimuth), n_z);
    const VolumePlace<double> at{{p.x(), p.y(), p.z()}, {n.x(), n.y(), n.z()}};
    const double scale = moments.area_turns * map.reference(map.field(p).norm());
    const Eigen::RowVectorXd exact = flux_by_quadrature(map, receiver, moments.centre_offset, p, n);
    const auto error = [&](const double(&flux)[parts]) {
      double square = 0.0;
      for (int k = 0; k < parts; ++k) square += (flux[k] - exact[k]) * (flux[k] - exact[k]);
      return std::sqrt(square) / scale;
    };
    double flux[parts];
    flux_curvature(map, moments, at, flux);
    choice.curvature_error = std::fmax(choice.curvature_error, error(flux));
    flux_seven_point(map, moments, at, flux);
    choice.seven_point_error = std::fmax(choice.seven_point_error, error(flux));
  }
  if (choice.curvature_error > 0.003 && choice.curvature_error > choice.seven_point_error)
    choice.rule = FluxRule::seven_point;
  return choice;
}

}  // namespace

FluxRuleChoice choose_flux_rule(const VolumeMap& map, std::span<const Turn> receiver, Reach reach,
                                std::uint64_t seed) {
  return map.parts() == 1 ? choose<1>(map, receiver, reach, seed) : choose<2>(map, receiver, reach, seed);
}

}  // namespace driftglow::coil
