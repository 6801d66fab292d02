#pragma once

#include <map>
#include <memory>
#include <mutex>
#include <span>
#include <vector>

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// One of several parallel round wires in their cross-section. Currents are relative to the circuit's, in
// phase, out of the plane when positive.
struct ParallelWire {
  double x, y;     // m, place of the axis
  double radius;   // m > 0, bare
  double current;  // 1
  // Uniform transverse field [1/m] (H over the circuit's current) that acts on the wire besides that of the
  // other straight wires.
  double external_x = 0.0, external_y = 0.0;
};

// What the induced (net-free) currents of parallel wires do, each wire.
struct InducedCurrents {
  std::vector<double> loss;  // 1/m2: added resistance a metre over resistivity, at the circuit's current
  std::vector<double> inductance;  // H/m, <= 0 in sum: what the induced currents take off the inductance
  int order;                       // highest multipole kept
  bool converged;                  // to 1e-4 of the whole resistance between the last two orders
};

// Skin and proximity effect together of parallel straight round wires of one non-magnetic metal, each with a
// given net current, by multipoles. With p = x + jy about a wire (j here the unit of both the plane and the
// phasors: exp(j n angle) is only a basis), the vector potential around it is
//   regular:    sum a_n p^n + b_n conj(p)^n           from the others and from outside
//   own:        -(mu0 I/2 pi) ln|p| + sum c_n p^-n + d_n conj(p)^-n
//   inside:     J ~ I_n(k r) exp(+-j n angle),  k = (1 + j)/skin depth
// Continuity of potential and tangential field at the surface gives d_n = -T_n radius^2n a_n, c_n likewise
// from b_n, T_n = I_(n+1)(k radius)/I_(n-1)(k radius); Taylor's series of p^-n about another wire's axis (the
// addition theorem of the harmonic functions) couples the wires. The n = 0 term is the skin effect of
// round_wire.hpp and is not counted here; harmonics are orthogonal on each surface, so the losses add:
//   loss = (1/(2 pi depth^2)) sum n Im(T_n) (|a_n|^2 + |b_n|^2) radius^2n,  potentials in mu0 I/(4 pi).
// Order raised until converged, at most 48. Neglected: displacement current, net circulating current between
// paralleled wires (there are none in series). Sources: Rayleigh [rayleigh1892] for the multipole method of
// cylinders; the response is Smythe's [smythe1968], chapter 10.
// Throws LogicError when wires overlap.
InducedCurrents solve_parallel_wires(std::span<const ParallelWire> wires, double skin_depth);

// Turns beyond which CloseWinding is not built: the cost grows with the square (300 turns: see the test).
inline constexpr int close_winding_most_turns = 300;

// Skin and proximity effect of a circuit of coaxial coils in series whose turns lie close: its cross-section
// as parallel wires at the turns' places. Curvature is taken in by the uniform part of the field at each
// wire, which is exactly that of all other rings (turn_field.hpp), so far coils and long windings are right;
// the gradients of the field and the answers between wires are those of straight wires. Neglected, of order
// wire radius/turn radius: the field that a curved turn has at its own wire, and the greater length of the
// path outside: the resistance comes out low by half of that ratio (2.3 % at 1/20, 0.2 % below 1/100).
//
// Depends on the frequency and resistivity by the skin depth alone, so values are solved at skin depths
// exp(k/10) m, kept, and joined by cubics in the logarithms (error below 1e-4): the result does not depend on
// the order of calls, and a driver that iterates on temperature pays for about five solutions. Safe to share
// between threads.
class CloseWinding {
 public:
  // At least two turns, not overlapping; LogicError otherwise.
  explicit CloseWinding(std::span<const WoundCoil> coils);

  struct Part {
    double loss;        // 1/m, induced resistance over resistivity
    double inductance;  // H, added by the induced currents, <= 0
  };
  // One coil's part at a skin depth [m]; wires of all coils at that same depth.
  Part part(int coil, double skin_depth) const;

  // Whether every node that part() has used so far was converged.
  bool converged(double skin_depth) const;

 private:
  struct Node {
    std::vector<Part> parts;  // natural logarithms of loss and of -inductance, a coil
    bool converged;
  };
  const Node& node(int index) const;

  std::vector<ParallelWire> wires_;
  std::vector<int> coil_of_;
  std::vector<double> length_;  // m, |weight| 2 pi a, a turn
  int coils_;
  mutable std::mutex mutex_;
  mutable std::map<int, Node> nodes_;
};

}  // namespace driftglow::coil
