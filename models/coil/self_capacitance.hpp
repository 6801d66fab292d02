#pragma once

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// Relative permittivity of common wire enamels (polyurethane, polyester, polyester-imide), 3 to 4.5: common
// practice, no source.
inline constexpr double enamel_permittivity = 3.5;

// How the layers of a coil follow each other: to and fro as a winding machine lays them, or each begun at the
// same end (the wire led back).
enum class LayerOrder { to_and_fro, same_end };

enum class SelfCapacitanceMethod {
  single_layer,  // Medhurst's range, length over diameter 0.1 to 50: about 5 %
  short_layer,   // shorter than that: his formula continued, which is high; good for a bound only
  layers         // energy between layers: about 20 %, more for loose or nested layers
};

struct SelfCapacitance {
  double value;  // F, across the coil's ends
  SelfCapacitanceMethod method;
};

// Capacitance of two parallel enamelled wires that touch, each in the middle of a layer of its like, a metre
// [F/m]: field lines taken radial in the enamel and then straight from one circle to the other, in series,
// over the quarter of the wire that faces the other,
//   2 eps0/sqrt(a^2 - 1) arctan(sqrt((a + 1)/(a - 1)) tan(pi/8)),  a = 1 + ln(D/d)/eps_r
// (Massarini & Kazimierczuk 1997 [massarini1997], who take a sixth, neighbours lying in the grooves). d bare,
// D enamelled diameter [m], D > d. Within 10 % of a
// finite-difference solution for the coats of winding wire, D/d up to 1.2; 12 % low at 1.3.
double facing_wires_capacitance(double bare_diameter, double enamelled_diameter, double permittivity);

// Self-capacitance of a winding.
// One layer: (11.26 l/D + 8 + 27 sqrt(D/l)) pF/m x D, one end earthed (Medhurst 1947 [medhurst1947]: a fit to
// his table, H = 0.1126 l/D + 0.08 + 0.27 sqrt(D/l) pF/cm), l = turns x pitch, D mean diameter. A coil that
// hangs free has less.
// Several layers: energy of the field between neighbouring layers, wire over wire as wind() lays them, with
// the voltage even along the wire, W = C V^2/2; between layers of n turns of p layers
//   to and fro:  the difference runs from 0 to 2V/p:  C = (4/3)(p - 1)/p^2 n 2 pi a C',
//   same end:    it is V/p throughout:                C = (p - 1)/p^2 n 2 pi a C'
// summed layer by layer, the last as far as it is filled. C' of facing_wires_capacitance(). Neglected: turn
// to turn within a layer (in series, 1/n^2 of one pair), the outside of the coil, grooves, varnish (raises
// it).
SelfCapacitance self_capacitance(const Winding& winding, LayerOrder order,
                                 double permittivity = enamel_permittivity);

// What self-capacitance does to a coil tuned by a capacitor, or used as it is.
struct SelfResonance {
  double frequency;   // Hz, of the coil alone, 1/(2 pi sqrt(L C_self))
  double use_ratio;   // 1, frequency of use over it
  double tank_shift;  // 1, relative change of the tank's resonance, <= 0: sqrt(C/(C + C_self)) - 1
  enum class Concern {
    none,
    shifts_tank,    // by more than the resonance's tolerance: take it off the capacitor
    near_resonance  // use above a fifth of the coil's own resonance: L and R there are not those computed
  } concern;
};
// L [H], self-capacitance [F], frequency of use [Hz], capacitance of the tank [F] (all > 0) and the tolerance
// of its resonance [1, >= 0], half the sum of those of L and C.
SelfResonance self_resonance(double inductance, double self_capacitance, double frequency,
                             double tank_capacitance, double resonance_tolerance);

}  // namespace driftglow::coil
