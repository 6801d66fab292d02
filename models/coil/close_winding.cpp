#include "models/coil/close_winding.hpp"

#include <Eigen/IterativeLinearSolvers>
#include <Eigen/SparseCore>
#include <algorithm>
#include <cmath>
#include <complex>

#include "models/coil/round_wire.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using Complex = std::complex<double>;
using Matrix = Eigen::SparseMatrix<Complex, Eigen::RowMajor>;
using constant::mu_0;
using constant::pi;

constexpr int first_order = 4, highest_order = 48;
constexpr double convergence = 1e-4;
// A coupling below this, next to ones of order one, is left out: far wires meet by their lowest orders only.
constexpr double negligible = 1e-7;

// (n + m - 1 over m), rising from the row above by (n + m - 1)/m.
std::vector<std::vector<double>> binomials() {
  std::vector<std::vector<double>> table(highest_order + 1, std::vector<double>(highest_order + 1, 1.0));
  for (int n = 1; n <= highest_order; ++n) {
    for (int m = 1; m <= highest_order; ++m) table[n][m] = table[n][m - 1] * (n + m - 1) / m;
  }
  return table;
}

// Unknowns: for each wire the own amplitudes c_1..c_order (of p^-n), then d_1..d_order, each over radius^n.
class Cluster {
 public:
  Cluster(std::span<const ParallelWire> wires, double skin_depth, int order)
      : wires_(wires), order_(order), size_(static_cast<int>(wires.size())), response_(size_) {
    for (int i = 0; i < size_; ++i) response_[i] = multipole_response(wires[i].radius / skin_depth, order);
    excite();
    const Eigen::VectorXcd own = solve();
    field_ = primary_;
    respond(own);
    loss_.resize(size_);
    inductance_.resize(size_);
    for (int i = 0; i < size_; ++i) {
      double loss = 0.0, inductance = 0.0;
      for (int n = 1; n <= order_; ++n) {
        const int c = at(i, n), d = c + order_;
        loss += n * response_[i][n - 1].imag() * (std::norm(field_[c]) + std::norm(field_[d]));
        // By reciprocity: the flux of a wire's multipoles through the circuit is their product with the
        // circuit's field at that wire.
        inductance += n * (own[c] * primary_[c] + own[d] * primary_[d]).real();
      }
      loss_[i] = loss / (2.0 * pi * skin_depth * skin_depth);
      inductance_[i] = mu_0 / (4.0 * pi) * inductance;
    }
  }

  const std::vector<double>& loss() const { return loss_; }
  const std::vector<double>& inductance() const { return inductance_; }

 private:
  int at(int wire, int n) const { return wire * 2 * order_ + n - 1; }

  // Field of the net currents and from outside: a_n, b_n times radius^n, in units of mu0/(4 pi). The place of
  // a_n is that of c_n, of b_n that of d_n.
  void excite() {
    primary_ = Eigen::VectorXcd::Zero(size_ * 2 * order_);
    for (int i = 0; i < size_; ++i) {
      const ParallelWire& here = wires_[i];
      const Complex external(here.external_y, here.external_x);
      primary_[at(i, 1)] = -2.0 * pi * here.radius * external;
      primary_[at(i, 1) + order_] = -2.0 * pi * here.radius * std::conj(external);
      for (int k = 0; k < size_; ++k) {
        if (k == i) continue;
        const Complex ratio = -here.radius / Complex(here.x - wires_[k].x, here.y - wires_[k].y);
        Complex power = ratio;
        for (int m = 1; m <= order_; ++m, power *= ratio) {
          const Complex part = wires_[k].current / m * power;
          primary_[at(i, m)] += part;
          primary_[at(i, m) + order_] += std::conj(part);
        }
      }
    }
  }

  // Regular amplitudes at wire i of unit own amplitudes of wire k, as far as they count.
  template <class Visit>
  void couplings(int i, int k, const Visit& visit) const {
    static const auto binomial = binomials();
    const Complex separation(wires_[i].x - wires_[k].x, wires_[i].y - wires_[k].y);
    const Complex from = wires_[k].radius / separation, to = -wires_[i].radius / separation;
    const double from_size = std::abs(from), to_size = std::abs(to);
    Complex to_power = to;
    double to_bound = to_size;
    for (int m = 1; m <= order_; ++m, to_power *= to, to_bound *= to_size) {
      Complex power = to_power * from;
      double bound = to_bound * from_size;
      for (int n = 1; n <= order_; ++n, power *= from, bound *= from_size) {
        if (binomial[n][m] * bound >= negligible) visit(m, n, binomial[n][m] * power);
        // Ratio of the next bound to this one is (n + m)/n from_size.
        else if ((n + m) * from_size < n)
          break;
      }
    }
  }

  // (1 + T C) own = -T primary.
  Eigen::VectorXcd solve() {
    std::vector<Eigen::Triplet<Complex>> entries;
    Eigen::VectorXcd right(primary_.size());
    for (int i = 0; i < size_; ++i) {
      for (int n = 1; n <= order_; ++n) {
        const int c = at(i, n), d = c + order_;
        entries.emplace_back(c, c, 1.0);
        entries.emplace_back(d, d, 1.0);
        right[c] = -response_[i][n - 1] * primary_[d];
        right[d] = -response_[i][n - 1] * primary_[c];
      }
      for (int k = 0; k < size_; ++k) {
        if (k == i) continue;
        couplings(i, k, [&](int m, int n, Complex value) {
          entries.emplace_back(at(i, m) + order_, at(k, n), response_[i][m - 1] * value);
          entries.emplace_back(at(i, m), at(k, n) + order_, response_[i][m - 1] * std::conj(value));
        });
      }
    }
    Matrix matrix(primary_.size(), primary_.size());
    matrix.setFromTriplets(entries.begin(), entries.end());
    Eigen::BiCGSTAB<Matrix> solver;
    solver.setTolerance(1e-8);
    solver.compute(matrix);
    Eigen::VectorXcd own = solver.solve(right);
    if (solver.info() != Eigen::Success) throw LogicError("close winding: the multipoles do not converge");
    return own;
  }

  // Whole regular field at each wire from own = -T field.
  void respond(const Eigen::VectorXcd& own) {
    for (int i = 0; i < size_; ++i) {
      for (int n = 1; n <= order_; ++n) {
        const int c = at(i, n), d = c + order_;
        field_[c] = -own[d] / response_[i][n - 1];
        field_[d] = -own[c] / response_[i][n - 1];
      }
    }
  }

  std::span<const ParallelWire> wires_;
  int order_, size_;
  std::vector<std::vector<Complex>> response_;
  Eigen::VectorXcd primary_, field_;
  std::vector<double> loss_, inductance_;
};

constexpr double nodes_per_e_fold = 10.0;

}  // namespace

InducedCurrents solve_parallel_wires(std::span<const ParallelWire> wires, double skin_depth) {
  for (std::size_t i = 0; i < wires.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) {
      if (std::hypot(wires[i].x - wires[k].x, wires[i].y - wires[k].y) <
          (wires[i].radius + wires[k].radius) * (1.0 - 1e-9))
        throw LogicError("close winding: wires overlap");
    }
  }
  // What the loss is compared with: the wires' own resistance with skin effect.
  double own = 0.0;
  for (const auto& wire : wires)
    own += wire.current * wire.current * internal_impedance_ratio(wire.radius / skin_depth).real() /
           (pi * wire.radius * wire.radius);
  const auto sum = [](const std::vector<double>& values) {
    double total = 0.0;
    for (const double value : values) total += value;
    return total;
  };
  double last = HUGE_VAL;
  for (int order = first_order;; order = std::min(highest_order, order + std::max(2, order / 3))) {
    const Cluster cluster(wires, skin_depth, order);
    const double loss = sum(cluster.loss());
    const bool converged = std::fabs(loss - last) <= convergence * (own + loss);
    if (converged || order == highest_order) return {cluster.loss(), cluster.inductance(), order, converged};
    last = loss;
  }
}

CloseWinding::CloseWinding(std::span<const WoundCoil> coils) : coils_(static_cast<int>(coils.size())) {
  for (int c = 0; c < coils_; ++c) {
    for (const auto& turn : coils[c].turns) {
      // x along the axis, y outwards: the current then comes out of the plane.
      wires_.push_back({turn.height, turn.radius, 0.5 * coils[c].wire.bare_diameter, turn.weight});
      coil_of_.push_back(c);
      length_.push_back(std::fabs(turn.weight) * 2.0 * pi * turn.radius);
    }
  }
  if (wires_.size() < 2) throw LogicError("close winding: a single turn");
  for (auto& wire : wires_) {
    for (const auto& other : wires_) {
      if (&other == &wire) continue;
      const double x = wire.x - other.x, y = wire.y - other.y;
      const auto ring = turn_field(other.y, wire.y, x);
      const double straight = 1.0 / (2.0 * pi * (x * x + y * y));
      wire.external_x += other.current * (ring.axial / mu_0 + straight * y);
      wire.external_y += other.current * (ring.radial / mu_0 - straight * x);
    }
  }
}

const CloseWinding::Node& CloseWinding::node(int index) const {
  const auto known = nodes_.find(index);
  if (known != nodes_.end()) return known->second;
  const InducedCurrents solved = solve_parallel_wires(wires_, std::exp(index / nodes_per_e_fold));
  Node fresh{std::vector<Part>(coils_, Part{0.0, 0.0}), solved.converged};
  for (std::size_t i = 0; i < wires_.size(); ++i) {
    Part& part = fresh.parts[coil_of_[i]];
    part.loss += length_[i] * solved.loss[i];
    part.inductance += length_[i] * solved.inductance[i];
  }
  // A coil in which all fields cancel has no logarithm: as good as none.
  for (auto& part : fresh.parts)
    part = {std::log(std::fmax(part.loss, 1e-300)), std::log(std::fmax(-part.inductance, 1e-300))};
  return nodes_.emplace(index, std::move(fresh)).first->second;
}

CloseWinding::Part CloseWinding::part(int coil, double skin_depth) const {
  const std::lock_guard lock(mutex_);
  const double place = std::log(skin_depth) * nodes_per_e_fold;
  const int below = static_cast<int>(std::floor(place));
  const double t = place - below;
  const double weight[4] = {-t * (t - 1.0) * (t - 2.0) / 6.0, (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
                            -(t + 1.0) * t * (t - 2.0) / 2.0, (t + 1.0) * t * (t - 1.0) / 6.0};
  Part sum{0.0, 0.0};
  for (int k = 0; k < 4; ++k) {
    const Part& part = node(below - 1 + k).parts.at(coil);
    sum.loss += weight[k] * part.loss;
    sum.inductance += weight[k] * part.inductance;
  }
  return {std::exp(sum.loss), -std::exp(sum.inductance)};
}

bool CloseWinding::converged(double skin_depth) const {
  const std::lock_guard lock(mutex_);
  return node(static_cast<int>(std::floor(std::log(skin_depth) * nodes_per_e_fold))).converged;
}

}  // namespace driftglow::coil
