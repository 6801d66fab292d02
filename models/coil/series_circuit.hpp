#pragma once

#include <vector>

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// Parts of a resistance [ohm]; total = dc + skin + proximity.
struct Resistance {
  double dc = 0.0;
  double skin = 0.0;
  double proximity = 0.0;
  double total = 0.0;

  Resistance& operator+=(const Resistance& other) {
    dc += other.dc;
    skin += other.skin;
    proximity += other.proximity;
    total += other.total;
    return *this;
  }
};

// How far the uniform-field proximity loss can be trusted: `spaced` windings (neighbours at 2 bare diameters
// or more) within 4 %, `close` ones are computed low.
enum class ProximityValidity { spaced, close };

struct ResistanceTrust {
  ProximityValidity validity;
  double spacing_ratio;  // 1, closest spacing over bare diameter, the worst coil
  double low_by_up_to;   // 1, of the total resistance at the frequency asked for
};

// Coaxial coils in series, all their turns carrying one current in their own sense: inductance and AC
// resistance. Also right for a single coil, e.g. a receiver's. Const after construction; what does not depend
// on the frequency is summed once. Wires are copper.
class SeriesCircuit {
 public:
  // Throws LogicError without coils and InputError when two turns' wires overlap (two coils at one place).
  explicit SeriesCircuit(std::vector<WoundCoil> coils);

  const std::vector<WoundCoil>& coils() const { return coils_; }
  std::vector<Turn> turns() const { return all_turns(coils_); }

  // Inductance [H]: loop self-inductances with the internal term of the Bessel solution, and Maxwell's mutual
  // inductance of all pairs. frequency [Hz] > 0, temperature of the copper [K]. Neglected: the field of the
  // proximity currents (lowers L by less than 1 % of the pairs' share in close windings of thick wire).
  double inductance(double frequency, double temperature) const;

  // Resistance [ohm] of one coil in the whole circuit's field: skin effect by the exact Bessel solution,
  // proximity by the exact loss of a straight round wire in the transverse field that all other turns (of all
  // coils) have at its centre (Ferreira [ferreira1994]); skin and proximity losses add for reasons of
  // symmetry.
  Resistance coil_resistance(int coil, double frequency, double temperature) const;
  Resistance resistance(double frequency, double temperature) const;

  // Within 4 % of the total at a spacing of two bare diameters or more; a closer winding is low by up to 31 %
  // where the induced loss dominates. That bound is scaled here by the induced share of the resistance (an
  // estimate of ours: thin wire at close pitch has next to no induced loss to be wrong about).
  ResistanceTrust resistance_trust(double frequency, double temperature) const;

 private:
  std::vector<WoundCoil> coils_;
  double mutual_sum_ = 0.0;                // H, all ordered pairs of different turns
  std::vector<double> transverse_square_;  // 1/m, a coil: sum of |weight| 2 pi a (H/I)^2
};

}  // namespace driftglow::coil
