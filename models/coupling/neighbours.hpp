#pragma once

#include <span>

#include "models/coil/winding.hpp"

namespace driftglow::coupling {

// k Q above which neighbours detune each other noticeably: at 0.2 a pair's EMF is off by up to about a fifth.
inline constexpr double caution_coupling = 0.2;

// How much tags of one design couple: k = |M|/L [1].
struct NeighbourCoupling {
  double contact_distance;  // m, two body radii
  double contact_coaxial;   // k with the axes in line, exact
  double contact_worst;     // k, largest over all directions of both axes
  double contact_rms;       // k, root mean square over directions, both independent and uniform
  double mean_distance;     // m, to the nearest other tag
  double mean_worst;        // k there
  double mean_rms;          // k there
  double Q;                 // 1, of the tank

  double caution_figure() const { return contact_worst * Q; }
  bool needs_caution() const { return caution_figure() > caution_coupling; }
};

// `receiver`: turns with heights as offsets; inductance [H] and Q of its tank at the drive; body radius and
// volume that the `count` tags share [m, m3]. Mean distance of the nearest of randomly placed tags,
// Gamma(4/3) (3 V/(4 pi n))^(1/3) = 0.554 (V/n)^(1/3) (Hertz 1909 [hertz1909]), but contact at least; tags
// gathered by the air are closer. Worst directions by a scan with both axes in one plane with the line
// between (15 degrees, then finer): by symmetry the extremes lie there. Root mean square by quadrature over
// both directions. One tag: no neighbours, all of the mean distance zero. LogicError for values out of range,
// or a coil larger than the body.
NeighbourCoupling neighbour_coupling(std::span<const coil::Turn> receiver, double inductance, double Q,
                                     double body_radius, int count, double volume);

}  // namespace driftglow::coupling
