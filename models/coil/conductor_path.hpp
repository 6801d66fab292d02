#pragma once

#include <Eigen/Core>
#include <span>
#include <variant>
#include <vector>

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// An unevaluated sum: about 32 digits.
struct TwoPart {
  double high, low;
};

// A point in a coil's own frame.
struct OwnPlace {
  Eigen::Vector3d outward;  // m, from the axis to the point, in W
  TwoPart rho;              // m, its length
  TwoPart zeta;             // m, along the axis from the centre
};

// Where a coil is in the vessel frame W: its centre [m] and axis. Const after construction.
class Placement {
 public:
  // The axis is scaled to length one here. Throws InputError when it has no length or a number is not finite.
  Placement(const Eigen::Vector3d& centre, const Eigen::Vector3d& axis);

  const Eigen::Vector3d& centre() const { return centre_; }
  const Eigen::Vector3d& axis() const { return axis_; }

  // In double-double arithmetic (Dekker 1971 [dekker1971]), because a distance of 1e-6 a from the wire of a
  // coil that lies askew keeps only ten digits in double.
  OwnPlace locate(const Eigen::Vector3d& p_W) const;

 private:
  Eigen::Vector3d centre_, axis_, axis_low_;
};

// Two unit vectors that make a right-handed frame with a unit axis.
struct Across {
  Eigen::Vector3d first, second;
};
Across across(const Eigen::Vector3d& axis);

// Circular turns about one axis; heights are offsets along it from the placement's centre. The current is
// right-handed about the axis.
struct TurnPath {
  Placement placement;
  std::vector<Turn> turns;
};

// Closed path of straight rods; the current runs corner to corner in their order, and from the last to the
// first.
struct RodPath {
  std::vector<Eigen::Vector3d> corners;  // m, W

  std::size_t rods() const { return corners.size(); }
  const Eigen::Vector3d& begin(std::size_t rod) const { return corners[rod]; }
  const Eigen::Vector3d& end(std::size_t rod) const { return corners[(rod + 1) % corners.size()]; }
};

// The meshes of a cage: `rods` (2 or more) upright rods evenly spaced at a radius about the vessel's axis,
// the first in direction x, joined by a ring at both ends. One mesh between each two neighbouring rods, then
// the ring at the top; any current of the cage is a sum of these. The rings are polygons of about 48 corners,
// on the circle.
std::vector<RodPath> cage_meshes(double radius, double low, double high, int rods);

using ConductorPath = std::variant<TurnPath, RodPath>;

// Flux density per ampere [T/A] in W at p_W [m], thin wire. Turns: error <= 1e-13 of |B| as turn_field(),
// from 1e-6 radius off the wire and to the axis. Rods: Biot-Savart of a straight piece in the form of Hanson
// & Hirshman 2002 [hanson2002], (mu0/4 pi) (r1 + r2)/(r1 r2 (r1 r2 + r1.r2)) r1 x r2.
Eigen::Vector3d field_of(const TurnPath& path, const Eigen::Vector3d& p_W);
Eigen::Vector3d field_of(const RodPath& path, const Eigen::Vector3d& p_W);
Eigen::Vector3d field_of(const ConductorPath& path, const Eigen::Vector3d& p_W);

// artanh(length/(r1 + r2)) [1], r1 and r2 the distances to the ends of a straight piece: its vector potential
// over mu0/(2 pi), along it.
double rod_potential(const Eigen::Vector3d& begin, const Eigen::Vector3d& end, const Eigen::Vector3d& p_W);

// Vector potential per ampere [Wb/(A m)], Coulomb gauge.
Eigen::Vector3d vector_potential_of(const TurnPath& path, const Eigen::Vector3d& p_W);
Eigen::Vector3d vector_potential_of(const RodPath& path, const Eigen::Vector3d& p_W);
Eigen::Vector3d vector_potential_of(const ConductorPath& path, const Eigen::Vector3d& p_W);

// Distance [m] from p_W to the nearest centre line.
double distance_to(const ConductorPath& path, const Eigen::Vector3d& p_W);

}  // namespace driftglow::coil
