#pragma once

#include <Eigen/Core>
#include <Eigen/LU>
#include <complex>
#include <span>
#include <vector>

#include "models/coupling/pair.hpp"
#include "models/coupling/tag_impedance.hpp"

namespace driftglow::coupling {

// The tags of one vessel coupled to each other. Phasors are peak; EMFs as e = -j omega Phi of the drive's
// field through each coil, so that with the current I_j = e_j'/Z_j
//   e_i' = e_i - sum over j of j omega M_ij I_j,   (diag Z + j omega M) I = e,   e' = Z I:
// e' is the EMF that tag i really sees, its own coil's reactance being part of Z. Keeps its work space from
// call to call. Neglected: the harmonics that lit tags send each other, the field of the tags at the drive
// (driver/tag_load.hpp has it on average).
class CoupledTags {
 public:
  // `coils`: one a tag. omega > 0 [rad/s]. Tags farther apart than `reach` [m] are left uncoupled. LogicError
  // for values out of range.
  CoupledTags(std::vector<coil::FluxMoments> coils, double omega, double reach);

  int size() const { return static_cast<int>(coils_.size()); }

  // Mutual inductances for places and axes of all tags, by pair_mutual_inductance().
  void place(std::span<const Pose> poses);
  // Or from elsewhere: symmetric, diagonal unused.
  void set_mutual(const Eigen::MatrixXd& mutual);
  const Eigen::MatrixXd& mutual() const { return mutual_; }

  // Largest |M_ij|/sqrt(L_i L_j) x sqrt(Q_i Q_j) = omega |M_ij|/sqrt(R_i R_j), R the real part of Z [1]:
  // below about 0.02 the solution is the direct EMF within 2 %.
  double strongest(std::span<const std::complex<double>> impedance) const;

  // The EMF that each tag sees [V peak], for impedances [ohm] with positive real part: unique, the matrix's
  // real part being positive definite.
  void solve(std::span<const std::complex<double>> emf, std::span<const std::complex<double>> impedance,
             std::span<std::complex<double>> seen);

  struct Outcome {
    int rounds;
    double change;  // 1, the last relative change of the largest |seen|; above the tolerance: not converged;
                    // not finite: no solution, as for coils that touch
  };
  // The same with impedances that follow the EMF seen, one table a tag: repeated until no |seen| moves by
  // more than `tolerance` of the largest. `seen` on entry: where to start (the last step's, or the direct
  // EMF). The step is shortened by half when the change does not fall. At most 60 rounds.
  Outcome settle(std::span<const std::complex<double>> emf, std::span<const TagImpedance* const> impedance,
                 std::span<std::complex<double>> seen, double tolerance = 1e-4);

 private:
  std::vector<coil::FluxMoments> coils_;
  double omega_, reach_;
  Eigen::MatrixXd mutual_;
  Eigen::MatrixXcd matrix_;
  Eigen::VectorXcd source_, current_;
  Eigen::PartialPivLU<Eigen::MatrixXcd> factors_;
  std::vector<std::complex<double>> impedance_, next_;
  std::vector<double> amplitude_;
};

}  // namespace driftglow::coupling
