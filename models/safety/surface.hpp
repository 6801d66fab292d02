#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>

namespace driftglow::safety {

// Upright cylinder about the z axis around vessel, coils and metal: all currents flow inside.
struct Enclosure {
  double radius;     // m > 0
  double low, high;  // m, low < high
};

// axial: the same at all azimuths, so that one meridian is enough.
enum class Symmetry { axial, none };

// Flux density [T rms] >= 0 anywhere outside the enclosure.
struct OutsideField {
  std::function<double(const Eigen::Vector3d& place)> flux_density_rms;
  Symmetry symmetry;
};

struct SurfacePeak {
  double flux_density_rms;  // T
  Eigen::Vector3d place;    // m

  double ratio(double level) const { return flux_density_rms / level; }
};

// The largest field on the closed surface whose points are all `distance` [m] > 0 from the enclosure: side,
// both ends and the rounded edges between. A whole surface, because a field has zeros that a single place may
// hit. Samples half the distance apart (the field cannot change faster, its sources being no closer), then a
// pattern search from the sixteen best, to 1e-3 of the distance. LogicError for values out of range or a
// field that is not 0 or more.
SurfacePeak largest_at_distance(const OutsideField& field, const Enclosure& enclosure, double distance);

// Distance [m] from the enclosure beyond which the field is nowhere above `level` [T rms] > 0, between
// `nearest` and `farthest`; `nearest` when it is below from there on, empty when still above at `farthest`.
// Outside all currents each Cartesian component is harmonic, so |B|^2 is subharmonic and the largest value on
// such a surface falls with the distance; should a field break that (a source outside the enclosure), the
// scan of surfaces, each twice as far as the last, goes to the far end and the last one above the level
// counts. Bisection to 0.1 %, rounded up.
std::optional<double> distance_below(const OutsideField& field, const Enclosure& enclosure, double level,
                                     double nearest, double farthest);

}  // namespace driftglow::safety
