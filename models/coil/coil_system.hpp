#pragma once

#include <Eigen/Core>
#include <vector>

#include "models/coil/coil_map.hpp"
#include "models/coil/conductor_path.hpp"
#include "models/coil/series_circuit.hpp"
#include "models/coil/shorted_turn.hpp"

namespace driftglow::coil {

// A wound coil anywhere. coil.turns: heights are offsets along the placement's axis from its centre, as
// wind(winding, 0, sense) gives them; the sense is about the axis.
struct PlacedCoil {
  WoundCoil coil;
  Placement placement;
};

enum class Connection { series, parallel };

// Coils on one pair of terminals, by their numbers in the system's list.
struct CoilCircuit {
  Connection connection;
  std::vector<int> coils;
};

struct Temperatures {
  double copper;  // K, of the coils
  double metal;   // K, of the passive conductors
};

// What the system does at one frequency. Phasors e^(+j omega t); voltage and current of a circuit in the
// direction in which the coils' turns count positive.
struct SystemResponse {
  double frequency;                // Hz
  Eigen::MatrixXcd currents;       // 1, conductors (coils, then passive ones) x circuits: per ampere of one
                                   // circuit's terminal current, the other circuits' terminals open
  Eigen::MatrixXcd impedance;      // ohm, circuits x circuits: terminal voltages per ampere
  Eigen::MatrixXcd without_metal;  // ohm, the same with all passive conductors cut open

  double inductance(int circuit) const;                   // H, all other circuits open
  double resistance(int circuit) const;                   // ohm
  double reflected_inductance(int circuit) const;         // H, what the passive conductors add: negative
  double reflected_resistance(int circuit) const;         // ohm, positive
  double mutual_inductance(int first, int second) const;  // H
  double coupling(int first, int second) const;           // 1, M/sqrt(L L')
};

// Coils and passive conductors at their places, joined to circuits. Const after construction; what does not
// depend on the frequency is computed once there.
class CoilSystem {
 public:
  // Throws InputError when wires of two conductors overlap (loops of metal may share whole rods), LogicError
  // when a coil is in no circuit or in two.
  CoilSystem(std::vector<PlacedCoil> coils, std::vector<CoilCircuit> circuits,
             std::vector<ShortedTurn> shorted = {});

  int coils() const { return static_cast<int>(coils_.size()); }
  int conductors() const { return static_cast<int>(paths_.size()); }
  int circuits() const { return static_cast<int>(circuits_.size()); }
  const ConductorPath& path(int conductor) const { return paths_[conductor]; }
  const PlacedCoil& coil(int number) const { return coils_[number]; }
  const CoilCircuit& circuit(int number) const { return circuits_[number]; }
  const SeriesCircuit& alone(int coil) const { return alone_[coil]; }  // that coil by itself

  // Impedance matrix [ohm] of all conductors, coils first: L as SeriesCircuit and ShortedTurn have it on the
  // diagonal and the mutual inductances beside it. R: DC and skin resistance on the diagonal, and the
  // proximity loss as the quadratic form that it is, a turn's wire lying in the fields of all conductors (so
  // that coils near each other have mutual resistance). Frequency [Hz] > 0. Neglected: eddy currents within
  // the section of passive conductors.
  Eigen::MatrixXcd impedance(double frequency, Temperatures at) const;

  // The circuits' response: equal currents in series coils, equal voltages in parallel ones (whose loop stays
  // closed when the terminals are open), no voltage round passive conductors.
  SystemResponse response(double frequency, Temperatures at) const;

  // Mean power [W] lost in each conductor, for peak currents [A] of all conductors (response().currents x
  // circuit currents).
  Eigen::VectorXd losses(double frequency, Temperatures at, const Eigen::VectorXcd& currents) const;

  // Flux density per ampere of each conductor [T/A] at p_W, one column each.
  Eigen::Matrix3Xd fields(const Eigen::Vector3d& p_W) const;

  double mutual_inductance_error() const { return mutual_error_; }  // H, the largest of all pairs

 private:
  Eigen::MatrixXd resistance_of(int conductor, double frequency, Temperatures at) const;

  std::vector<PlacedCoil> coils_;
  std::vector<CoilCircuit> circuits_;
  std::vector<ShortedTurn> shorted_;
  std::vector<ConductorPath> paths_;
  std::vector<SeriesCircuit> alone_;         // each coil on its own
  Eigen::MatrixXd shared_length_;            // m, of rods, with sign; zero on the diagonal
  Eigen::MatrixXd mutual_;                   // H, zero on the diagonal
  std::vector<Eigen::MatrixXd> transverse_;  // 1/m, a coil: sum of |weight| int h_i.h_j dl, h = H/I across
                                             // the wire; without the coil's own square
  double mutual_error_ = 0.0;
};

// Currents of all conductors split into what is in phase with the circuits' phase reference and what lags it
// by a quarter period: real columns [A], conductors x 1 or x 2, such that B(t) = Re[(B_0 - j B_1) e^(j omega
// t)] with B_c = fields(p) * column c. The second column is left out when it is below 1e-4 of the first
// (nothing shifts the phase). circuit_currents: peak phasors [A].
Eigen::MatrixXd current_parts(const SystemResponse& response, const Eigen::VectorXcd& circuit_currents);
// The same from the peak phasors of all conductors [A].
Eigen::MatrixXd current_parts(const Eigen::VectorXcd& conductor_currents);

}  // namespace driftglow::coil
