#pragma once

#include <memory>
#include <vector>

#include "models/coil/close_winding.hpp"
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

// How far the proximity loss can be trusted. `spaced` windings (neighbours at 2 bare diameters or more) take
// the uniform-field loss, within 4 %. Closer ones are `solved` by multipoles (close_winding.hpp), within 1 %,
// up to close_winding_most_turns; beyond that, or where the multipoles do not converge, they are `close`: the
// uniform-field loss again, which is low there.
enum class ProximityValidity { spaced, solved, close };

struct ResistanceTrust {
  ProximityValidity validity;
  double spacing_ratio;  // 1, closest spacing over bare diameter, the worst coil or pair of coils
  double low_by_up_to;   // 1, of the total resistance at the frequency asked for
};

// Coaxial coils in series, all their turns carrying one current in their own sense: inductance and AC
// resistance. Also right for a single coil, e.g. a receiver's. Const after construction; what does not depend
// on the frequency is summed once. Wires are copper; litz wire takes its strands' losses (litz.hpp) in the
// others' mean square field over the bundle, whatever its spacing, and counts as `spaced`.
class SeriesCircuit {
 public:
  // Throws LogicError without coils and InputError when two turns' wires overlap (two coils at one place).
  explicit SeriesCircuit(std::vector<WoundCoil> coils);

  const std::vector<WoundCoil>& coils() const { return coils_; }
  std::vector<Turn> turns() const { return all_turns(coils_); }

  // Inductance [H]: loop self-inductances with the internal term of the Bessel solution, and Maxwell's mutual
  // inductance of all pairs. frequency [Hz] > 0, temperature of the copper [K]. The field of the
  // induced currents is left out; induced_inductance() says what it takes off.
  double inductance(double frequency, double temperature) const;

  // What the induced currents add to the inductance [H], <= 0: the flux of the transverse dipoles of
  // Ferreira's uniform-field solution, or of all multipoles where the winding is close.
  double induced_inductance(double frequency, double temperature) const;

  // Resistance [ohm] of one coil in the whole circuit's field: skin effect by the exact Bessel solution,
  // proximity by the multipole solution in close windings (see ProximityValidity), all wires then at this
  // coil's temperature; else by the exact loss of a straight round wire in the transverse field that all
  // other turns (of all coils) have at its centre (Ferreira [ferreira1994]); skin and proximity losses add
  // for reasons of symmetry.
  Resistance coil_resistance(int coil, double frequency, double temperature) const;
  Resistance resistance(double frequency, double temperature) const;

  // Spaced: within 4 % of the total. Solved: within 1 %, or wire radius over turn radius
  // where that is more (small coils of thick wire). Close: low by up to 31 % where the induced loss
  // dominates; that bound is scaled here by the induced share of the resistance (an estimate of ours: thin
  // wire at close pitch has next to no induced loss to be wrong about), as is the 4 %.
  ResistanceTrust resistance_trust(double frequency, double temperature) const;

 private:
  bool solved(double skin_depth) const { return close_ && close_->converged(skin_depth); }

  std::vector<WoundCoil> coils_;
  double spacing_ratio_;                       // 1, of all neighbouring turns
  std::shared_ptr<const CloseWinding> close_;  // only for close windings; shared because its values are kept
  double mutual_sum_ = 0.0;                    // H, all ordered pairs of different turns
  std::vector<double> transverse_square_;      // 1/m, a coil: sum of |weight| 2 pi a (H/I)^2
};

}  // namespace driftglow::coil
