#include "models/coil/coil_system.hpp"

#include <Eigen/LU>
#include <cmath>
#include <string>
#include <utility>

#include "models/coil/conductor_inductance.hpp"
#include "models/coil/litz.hpp"
#include "models/coil/round_wire.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using constant::mu_0;
using constant::pi;
using Eigen::Vector3d;
using std::complex;

// Field [T/A] of a coil's other turns at one of its turns: the same all round it.
Vector3d field_at_own_turn(const std::vector<Turn>& turns, std::size_t index, const Vector3d& outward,
                           const Vector3d& axis) {
  const Turn& here = turns[index];
  double radial = 0.0, axial = 0.0;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    if (i == index) continue;
    const auto field = turn_field(turns[i].radius, here.radius, here.height - turns[i].height);
    radial += turns[i].weight * field.radial;
    axial += turns[i].weight * field.axial;
  }
  return radial * outward + axial * axis;
}

// Sum over the turns of one coil of |weight| int h_i.h_j dl [1/m], by the trapezoidal rule on 32 points a
// turn: the loss in fields of other conductors is a part of a part. The coil's own square is left to
// SeriesCircuit.
Eigen::MatrixXd transverse_products(const std::vector<ConductorPath>& paths, int coil) {
  constexpr int points = 32;
  const auto& own = std::get<TurnPath>(paths[coil]);
  const Vector3d axis = own.placement.axis();
  const Across frame = across(axis);
  const int n = static_cast<int>(paths.size());
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(n, n);
  if (n == 1) return sum;
  for (std::size_t t = 0; t < own.turns.size(); ++t) {
    const Turn& turn = own.turns[t];
    Eigen::MatrixXd products = Eigen::MatrixXd::Zero(n, n);
    const Vector3d from_own = field_at_own_turn(own.turns, t, Vector3d::UnitX(), Vector3d::UnitZ());
    for (int i = 0; i < points; ++i) {
      const double angle = 2.0 * pi * i / points, c = std::cos(angle), s = std::sin(angle);
      const Vector3d outward = c * frame.first + s * frame.second, along = c * frame.second - s * frame.first;
      const Vector3d p = own.placement.centre() + turn.height * axis + turn.radius * outward;
      Eigen::Matrix3Xd across_wire(3, n);
      for (int k = 0; k < n; ++k) {
        const Vector3d field =
            k == coil ? Vector3d(from_own.x() * outward + from_own.z() * axis) : field_of(paths[k], p);
        across_wire.col(k) = field - field.dot(along) * along;
      }
      products += across_wire.transpose() * across_wire;
    }
    sum += std::fabs(turn.weight) * 2.0 * pi * turn.radius / points / (mu_0 * mu_0) * products;
  }
  sum(coil, coil) = 0.0;
  return sum;
}

// What a transverse field across a wire adds to its resistance [ohm m], times the square of H/I a metre.
double transverse_resistance(const Wire& wire, double resistivity, double frequency) {
  if (wire.litz) return litz_resistance(*wire.litz, wire.bare_diameter, resistivity, frequency).external;
  const double wire_radius = 0.5 * wire.bare_diameter;
  return 2.0 * pi * (2.0 * pi * frequency) * mu_0 * wire_radius * wire_radius *
         transverse_loss_factor(wire_radius / skin_depth(resistivity, frequency));
}

// Terminal impedances and conductor currents of circuits whose conductors have the impedance matrix Z; those
// from circuits' coils on are short-circuited.
std::pair<Eigen::MatrixXcd, Eigen::MatrixXcd> solve(const Eigen::MatrixXcd& Z,
                                                    const std::vector<CoilCircuit>& circuits, int coils) {
  const int n = static_cast<int>(Z.rows()), m = static_cast<int>(circuits.size());
  // Unknown: n currents, m terminal voltages; a column of the right side: one ampere into one circuit.
  Eigen::MatrixXcd A = Eigen::MatrixXcd::Zero(n + m, n + m), right = Eigen::MatrixXcd::Zero(n + m, m);
  int row = 0;
  for (int c = 0; c < m; ++c) {
    const int voltage = n + c;
    if (circuits[c].connection == Connection::series) {
      for (const int k : circuits[c].coils) {
        A(row, k) = 1.0;
        right(row++, c) = 1.0;
      }
      for (const int k : circuits[c].coils) A.row(row).head(n) += Z.row(k);
      A(row++, voltage) = -1.0;
    } else {
      for (const int k : circuits[c].coils) {
        A.row(row).head(n) = Z.row(k);
        A(row++, voltage) = -1.0;
      }
      for (const int k : circuits[c].coils) A(row, k) = 1.0;
      right(row++, c) = 1.0;
    }
  }
  for (int k = coils; k < n; ++k) A.row(row++).head(n) = Z.row(k);
  const Eigen::MatrixXcd x = A.fullPivLu().solve(right);
  return {x.topRows(n), x.bottomRows(m)};
}

}  // namespace

double SystemResponse::inductance(int circuit) const {
  return impedance(circuit, circuit).imag() / (2.0 * pi * frequency);
}
double SystemResponse::resistance(int circuit) const {
  return impedance(circuit, circuit).real();
}
double SystemResponse::reflected_inductance(int circuit) const {
  return inductance(circuit) - without_metal(circuit, circuit).imag() / (2.0 * pi * frequency);
}
double SystemResponse::reflected_resistance(int circuit) const {
  return resistance(circuit) - without_metal(circuit, circuit).real();
}
double SystemResponse::mutual_inductance(int first, int second) const {
  return impedance(first, second).imag() / (2.0 * pi * frequency);
}
double SystemResponse::coupling(int first, int second) const {
  return mutual_inductance(first, second) / std::sqrt(inductance(first) * inductance(second));
}

CoilSystem::CoilSystem(std::vector<PlacedCoil> coils, std::vector<CoilCircuit> circuits,
                       std::vector<ShortedTurn> shorted)
    : coils_(std::move(coils)), circuits_(std::move(circuits)), shorted_(std::move(shorted)) {
  std::vector<int> uses(coils_.size(), 0);
  for (const auto& circuit : circuits_) {
    for (const int k : circuit.coils) ++uses.at(k);
  }
  for (const int used : uses) {
    if (used != 1) throw LogicError("every coil belongs to exactly one circuit");
  }
  std::vector<double> half_thickness;
  for (const auto& coil : coils_) {
    paths_.push_back(TurnPath{coil.placement, coil.coil.turns});
    half_thickness.push_back(0.5 * coil.coil.wire.bare_diameter);
    alone_.push_back(SeriesCircuit({coil.coil}));
  }
  for (const auto& conductor : shorted_) {
    paths_.push_back(conductor.path());
    half_thickness.push_back(conductor.half_thickness());
  }
  const int n = conductors();
  mutual_ = shared_length_ = Eigen::MatrixXd::Zero(n, n);
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < i; ++j) {
      if (i >= this->coils() && j >= this->coils()) {
        const auto joint = ShortedTurn::joint(shorted_[i - this->coils()], shorted_[j - this->coils()]);
        if (joint.length != 0.0) {
          mutual_(i, j) = mutual_(j, i) = joint.inductance;
          shared_length_(i, j) = shared_length_(j, i) = joint.length;
          continue;
        }
      }
      if (closer_than(paths_[i], paths_[j], (half_thickness[i] + half_thickness[j]) * (1.0 - 1e-9))) {
        const auto name = [this](int k) {
          return k < this->coils() ? "coil " + std::to_string(k + 1)
                                   : "closed conductor " + std::to_string(k - this->coils() + 1);
        };
        throw InputError("the wires of " + name(j) + " and " + name(i) +
                         " run through each other; move them apart");
      }
      const MutualInductance mutual = coil::mutual_inductance(paths_[i], paths_[j]);
      mutual_(i, j) = mutual_(j, i) = mutual.value;
      mutual_error_ = std::fmax(mutual_error_, mutual.error);
    }
  }
  for (int k = 0; k < this->coils(); ++k) transverse_.push_back(transverse_products(paths_, k));
}

Eigen::MatrixXd CoilSystem::resistance_of(int k, double frequency, Temperatures at) const {
  if (k >= coils()) {
    Eigen::MatrixXd R = Eigen::MatrixXd::Zero(conductors(), conductors());
    const ShortedTurn& own = shorted_[k - coils()];
    // Half of what a shared rod's resistance adds goes to each of its loops.
    const Eigen::VectorXd shared =
        0.5 * own.internal_impedance(frequency, at.metal).real() * shared_length_.col(k);
    R.col(k) += shared;
    R.row(k) += shared.transpose();
    R(k, k) += own.resistance(frequency, at.metal);
    return R;
  }
  Eigen::MatrixXd R =
      transverse_resistance(coils_[k].coil.wire, copper_resistivity(at.copper), frequency) * transverse_[k];
  R(k, k) += alone_[k].resistance(frequency, at.copper).total;
  return R;
}

Eigen::MatrixXcd CoilSystem::impedance(double frequency, Temperatures at) const {
  const double omega = 2.0 * pi * frequency;
  Eigen::MatrixXcd Z = complex<double>(0.0, omega) * mutual_;
  for (int k = 0; k < conductors(); ++k) {
    const double inductance = k < coils() ? alone_[k].inductance(frequency, at.copper)
                                          : shorted_[k - coils()].inductance(frequency, at.metal);
    Z(k, k) += complex<double>(0.0, omega * inductance);
    Z += resistance_of(k, frequency, at);
    for (int j = coils(); j < conductors(); ++j) {
      if (shared_length_(j, k) != 0.0)
        Z(j, k) += complex<double>(
            0.0, shared_length_(j, k) * shorted_[k - coils()].internal_impedance(frequency, at.metal).imag());
    }
  }
  return Z;
}

SystemResponse CoilSystem::response(double frequency, Temperatures at) const {
  const Eigen::MatrixXcd Z = impedance(frequency, at);
  auto [currents, terminal] = solve(Z, circuits_, coils());
  auto [unused, alone] = solve(Z.topLeftCorner(coils(), coils()), circuits_, coils());
  return {frequency, std::move(currents), std::move(terminal), std::move(alone)};
}

Eigen::VectorXd CoilSystem::losses(double frequency, Temperatures at,
                                   const Eigen::VectorXcd& currents) const {
  Eigen::VectorXd power(conductors());
  for (int k = 0; k < conductors(); ++k)
    power[k] = 0.5 * currents.dot(resistance_of(k, frequency, at) * currents).real();
  return power;
}

Eigen::Matrix3Xd CoilSystem::fields(const Vector3d& p_W) const {
  Eigen::Matrix3Xd B(3, conductors());
  for (int k = 0; k < conductors(); ++k) B.col(k) = field_of(paths_[k], p_W);
  return B;
}

Eigen::MatrixXd current_parts(const SystemResponse& response, const Eigen::VectorXcd& circuit_currents) {
  return current_parts(response.currents * circuit_currents);
}

Eigen::MatrixXd current_parts(const Eigen::VectorXcd& currents) {
  Eigen::MatrixXd parts(currents.size(), 2);
  parts << currents.real(), -currents.imag();
  if (parts.col(1).norm() <= 1e-4 * parts.col(0).norm()) parts.conservativeResize(Eigen::NoChange, 1);
  return parts;
}

}  // namespace driftglow::coil
