#include "models/coupling/coupled_tags.hpp"

#include <algorithm>
#include <cmath>

#include "models/error.hpp"

namespace driftglow::coupling {
namespace {

using Complex = std::complex<double>;

void require(bool good, const char* sentence) {
  if (!good) throw LogicError(sentence);
}

}  // namespace

CoupledTags::CoupledTags(std::vector<coil::FluxMoments> coils, double omega, double reach)
    : coils_(std::move(coils)),
      omega_(omega),
      reach_(reach),
      mutual_(Eigen::MatrixXd::Zero(size(), size())),
      matrix_(size(), size()),
      source_(size()),
      current_(size()),
      factors_(size()),
      impedance_(coils_.size()),
      next_(coils_.size()),
      amplitude_(coils_.size()) {
  require(!coils_.empty(), "coupled tags: none");
  require(omega > 0.0 && reach >= 0.0, "coupled tags: frequency or reach out of range");
}

void CoupledTags::place(std::span<const Pose> poses) {
  require(poses.size() == coils_.size(), "coupled tags: places and coils differ in number");
  for (int i = 0; i < size(); ++i) {
    for (int j = 0; j < i; ++j) {
      const bool near = (poses[i].centre - poses[j].centre).squaredNorm() <= reach_ * reach_;
      mutual_(i, j) = mutual_(j, i) =
          near ? pair_mutual_inductance(coils_[i], poses[i], coils_[j], poses[j]) : 0.0;
    }
  }
}

void CoupledTags::set_mutual(const Eigen::MatrixXd& mutual) {
  require(mutual.rows() == size() && mutual.cols() == size(),
          "coupled tags: mutual inductances of the wrong size");
  mutual_ = mutual;
}

double CoupledTags::strongest(std::span<const Complex> impedance) const {
  double largest = 0.0;
  for (int i = 0; i < size(); ++i) {
    for (int j = 0; j < i; ++j)
      largest =
          std::max(largest, std::fabs(mutual_(i, j)) / std::sqrt(impedance[i].real() * impedance[j].real()));
  }
  return omega_ * largest;
}

void CoupledTags::solve(std::span<const Complex> emf, std::span<const Complex> impedance,
                        std::span<Complex> seen) {
  require(emf.size() == coils_.size() && impedance.size() == emf.size() && seen.size() == emf.size(),
          "coupled tags: EMFs and impedances differ in number");
  for (int j = 0; j < size(); ++j) {
    for (int i = 0; i < size(); ++i) matrix_(i, j) = Complex(0.0, omega_ * mutual_(i, j));
    matrix_(j, j) = impedance[j];
    source_[j] = emf[j];
  }
  factors_.compute(matrix_);
  current_.noalias() = factors_.solve(source_);
  for (int i = 0; i < size(); ++i) seen[i] = impedance[i] * current_[i];
}

CoupledTags::Outcome CoupledTags::settle(std::span<const Complex> emf,
                                         std::span<const TagImpedance* const> impedance,
                                         std::span<Complex> seen, double tolerance) {
  require(impedance.size() == coils_.size() && seen.size() == coils_.size(),
          "coupled tags: EMFs and impedances differ in number");
  constexpr int most_rounds = 60;
  double share = 1.0, last = 0.0;
  for (std::size_t i = 0; i < seen.size(); ++i) amplitude_[i] = std::abs(seen[i]);
  Outcome outcome{0, 0.0};
  while (outcome.rounds < most_rounds) {
    for (std::size_t i = 0; i < seen.size(); ++i) impedance_[i] = impedance[i]->at(amplitude_[i]);
    solve(emf, impedance_, next_);
    double largest = 0.0, change = 0.0;
    for (std::size_t i = 0; i < seen.size(); ++i) {
      const double amplitude = std::abs(next_[i]);
      if (!std::isfinite(amplitude)) return {outcome.rounds + 1, amplitude};
      largest = std::max(largest, amplitude);
      change = std::max(change, std::fabs(amplitude - amplitude_[i]));
      amplitude_[i] += share * (amplitude - amplitude_[i]);
    }
    std::copy(next_.begin(), next_.end(), seen.begin());
    outcome = {outcome.rounds + 1, largest > 0.0 ? change / largest : 0.0};
    if (outcome.change <= tolerance) break;
    if (outcome.rounds > 1 && outcome.change > 0.7 * last) share = std::max(0.5 * share, 1.0 / 16.0);
    last = outcome.change;
  }
  return outcome;
}

}  // namespace driftglow::coupling
