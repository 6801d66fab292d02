#pragma once

#include <complex>
#include <variant>

#include "models/coil/conductor_path.hpp"

namespace driftglow::coil {

// A non-magnetic metal.
struct Metal {
  double resistivity_20;           // ohm m at 20 degC
  double temperature_coefficient;  // 1/K, at 20 degC

  double resistivity(double temperature) const;  // ohm m; temperature [K]
};

// Copper and aluminium for electrical use [iec60028], [iec60889]; common brass of 37 % zinc and austenitic
// stainless steel 1.4301 by their usual data sheets. All but copper [memory]; alloys scatter by 10 % and
// more (structural aluminium alloys have 1.2 to 1.8 times the value here).
namespace metal {
extern const Metal copper, aluminium, brass, stainless_steel;
}

// Cross-sections [m].
struct RoundSection {
  double diameter;
};
struct RectangularSection {
  double width, height;  // which is which does not matter to R and L
};
using Section = std::variant<RoundSection, RectangularSection>;

// A section as the current sees it.
struct SectionShape {
  double area;              // m2
  double perimeter;         // m
  double surface_radius;    // m, of the round wire with the same inductance, all current in the surface
  double uniform_distance;  // m, geometric mean distance of the section from itself: current everywhere
  double crowding;          // 1, surface loss over that of a current spread evenly on the perimeter
};

// Round: w, w exp(-1/4), 1. Rectangular: the current in the surface is that of the conformal map of the
// outside of a circle,
//   |dz/dtheta| = C sqrt(2 |cos 2 alpha - cos 2 theta|),  sides 2 C int_side,
// whose C is the surface radius (0.5902 of a square's side [polya1951], 1/4 of a strip's width) and whose
// crowding is (int |dz/dtheta|)(int 1/|dz/dtheta|)/(4 pi^2), 4/pi for a square; the uniform distance is
// Maxwell's [maxwell1873] (0.4470 of a square's side [rosa1912]). Throws InputError when a size is not
// positive, or one side is more than 1000 times the other.
SectionShape shape_of(const Section& section);

// A closed passive conductor: a ring, a rim of a mesh, rods joined at both ends. Loops that share rods, the
// meshes of a cage, are one a mesh. Const after construction.
class ShortedTurn {
 public:
  // path: one turn of weight 1 (mean radius of the ring), or rods. joint_resistance: of all its joints [ohm],
  // >= 0. Throws InputError when the section does not fit the path or a value is not finite.
  ShortedTurn(ConductorPath path, Section section, Metal metal, double joint_resistance = 0.0);

  const ConductorPath& path() const { return path_; }
  double half_thickness() const { return half_thickness_; }  // m, of the thinner side

  // Internal impedance of the section a metre [ohm/m] at a frequency [Hz] > 0 and temperature of the metal
  // [K]: rho/area times that of the round wire which has the section's surface loss, the Bessel solution at
  // w/delta = 2 crowding area/(perimeter delta), its reactance scaled so that the inductance starts from
  // (mu0/2 pi) ln(surface radius/uniform distance). Exact for round wire, right in both limits for a bar; for
  // sides up to 1:10 the resistance is within 10 % between them and the mean distance within 6 % (tests).
  // Neglected: crowding to the inside of a ring that is wide against its radius (describe it by several
  // rings), eddy currents that close inside the section.
  std::complex<double> internal_impedance(double frequency, double temperature) const;

  // The whole conductor: resistance with the joints [ohm], inductance [H].
  double resistance(double frequency, double temperature) const;
  double inductance(double frequency, double temperature) const;

  // Of two loops of rods, where they share some: mutual inductance [H] with all current in the surface, and
  // the shared length [m] with its sign, on which both have the internal impedance. Throws InputError when
  // the sections or metals differ.
  struct Joint {
    double inductance, length;
  };
  static Joint joint(const ShortedTurn& first, const ShortedTurn& second);

 private:
  ConductorPath path_;
  SectionShape shape_;
  Metal metal_;
  double joint_resistance_;
  double half_thickness_;
  double length_;              // m
  double surface_inductance_;  // H, current in the surface
};

}  // namespace driftglow::coil
