#pragma once

namespace driftglow::coil {

// Bunched or stranded wire of insulated strands, each of which wanders through every place of the bundle, so
// that all carry the same current.
struct Litz {
  int strands;             // at least 2
  double strand_diameter;  // m > 0, bare
  double lay_factor;       // 1, strand length over bundle length, 1 to 1.3; 1.02 is common (no source)
};

// Throws InputError for values out of range or more copper than 80 % of a bundle of the given diameter [m]
// (six strands about one fill 78 %).
void check(const Litz& litz, double bundle_diameter);

// Resistance a metre of bundle [ohm/m], of strands in the bundle's own field; `external` [ohm m]: what a
// transverse field H adds, times (H/I)^2, mean square over the bundle.
struct LitzResistance {
  double dc, skin, internal, external;
};

// n strands of radius r, a bundle of radius b with the strands evenly spread, each of current I/n,
// resistivity [ohm m], frequency [Hz]:
//   dc        lay rho/(n pi r^2)
//   skin      dc (Re[x I0(x)/(2 I1(x))] - 1),  round_wire.hpp
//   internal  strands in the field I s/(2 pi b^2) of the bundle within radius s, mean square I^2/(8 pi^2
//   b^2):
//             lay n omega mu0 r^2 G/(4 pi b^2)
//   external  lay n 2 pi omega mu0 r^2 G
// with the exact loss G of a round wire in a transverse field (Ferreira [ferreira1994]; the sum over strands
// as Tourkhani & Viarouge 2001 [tourkhani2001, memory]; at low frequency Sullivan's [sullivan1999, memory]
// 1 + pi^2 omega^2 mu0^2 N^2 n^2 d^6 k/(768 rho^2 b^2)). Valid for strands up to 1.5 skin depths thick, where
// they do not yet screen each other: within 5 % from about 20 strands (tests); a strand's own field on itself
// is in the smooth field too, so few strands come out high: 7 by a sixth of the internal part. Neglected:
// bunching that does not transpose, currents between strands through their ends, the slant of the strands.
LitzResistance litz_resistance(const Litz& litz, double bundle_diameter, double resistivity,
                               double frequency);

}  // namespace driftglow::coil
