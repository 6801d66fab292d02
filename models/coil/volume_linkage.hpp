#pragma once

#include <cstdint>
#include <span>

#include "models/coil/flux_linkage.hpp"
#include "models/coil/volume_map.hpp"
#include "models/numeric/bspline_volume.hpp"
#include "models/numeric/lane.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::coil {

// Where a receiver is [m] and its unit axis, both in W.
template <class T>
struct VolumePlace {
  numeric::Vec3<T> p, n;
};

// Flux linkage of a receiver in every part of a volume map, to second order: as flux_curvature() of
// flux_linkage.hpp [Wb/A, or Wb for a map in tesla]. `parts` is the map's number, known when
// compiling; the amplitude is the root of the sum of both parts' squares.
template <int parts, class T>
void flux_curvature(const VolumeMap& map, const FluxMoments& coil, const VolumePlace<T>& at,
                    T (&flux)[parts]) {
  T curvature[parts];
  map.spline().along(map.spline().locate(at.p), at.n, flux, curvature);
  for (int k = 0; k < parts; ++k) flux[k] = T(coil.area_turns) * flux[k] + T(coil.curvature) * curvature[k];
}

// The same by seven points on the disc: as flux_seven_point().
template <int parts, class T>
void flux_seven_point(const VolumeMap& map, const FluxMoments& coil, const VolumePlace<T>& at,
                      T (&flux)[parts]) {
  T centre[parts], curvature[parts], sum[parts];
  map.spline().along(map.spline().locate(at.p), at.n, centre, curvature);
  for (auto& s : sum) s = T(0.0);
  each_hexagon_point(at.p, at.n, coil.disc_radius, [&](const numeric::Vec3<T>& p) {
    numeric::Vec3<T> field[parts];
    map.spline().values(map.spline().locate(p), field);
    for (int k = 0; k < parts; ++k) sum[k] = sum[k] + numeric::dot(at.n, field[k]);
  });
  for (int k = 0; k < parts; ++k)
    flux[k] =
        T(coil.area_turns) * (T(0.25) * centre[k] + T(0.125) * sum[k]) + T(coil.axial_spread) * curvature[k];
}

// The choice of flux_linkage.hpp for a volume map: both rules at random places and axes in the reach against
// fine quadrature of the map over every turn's disc, errors of the flux vector over the parts relative to
// N A |B|.
FluxRuleChoice choose_flux_rule(const VolumeMap& map, std::span<const Turn> receiver, Reach reach,
                                std::uint64_t seed);

}  // namespace driftglow::coil
