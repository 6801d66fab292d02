#include "models/driver/coil_load.hpp"

#include <cmath>
#include <complex>

#include "models/driver/mean.hpp"

namespace driftglow::driver {

int CoilLoad::coils() const {
  return static_cast<int>(series_ ? series_->coils().size() : system_->circuit(circuit_).coils.size());
}

const coil::WoundCoil& CoilLoad::coil(int number) const {
  return series_ ? series_->coils()[number] : system_->coil(system_->circuit(circuit_).coils[number]).coil;
}

double CoilLoad::inductance(double frequency, double temperature) const {
  if (series_) return series_->inductance(frequency, temperature);
  return system_->response(frequency, {temperature, metal_temperature_}).inductance(circuit_);
}

double CoilLoad::induced_inductance(double frequency, double temperature) const {
  if (series_) return series_->induced_inductance(frequency, temperature);
  const auto response = system_->response(frequency, {temperature, metal_temperature_});
  double sum = 0.0;
  for (const int k : system_->circuit(circuit_).coils)
    sum += std::norm(response.currents(k, circuit_)) *
           system_->alone(k).induced_inductance(frequency, temperature);
  return sum;
}

LoadState CoilLoad::at(double frequency, const std::vector<double>& temperature) const {
  const double average = mean(temperature);
  LoadState state{};
  if (series_) {
    state.L = series_->inductance(frequency, average);
    for (int c = 0; c < coils(); ++c) {
      const auto part = series_->coil_resistance(c, frequency, temperature[c]);
      state.resistance += part;
      state.coil_resistance.push_back(part.total);
      state.current_share.push_back(1.0);
    }
    return state;
  }
  const coil::Temperatures at{average, metal_temperature_};
  const auto response = system_->response(frequency, at);
  const Eigen::VectorXcd currents = response.currents.col(circuit_);
  const Eigen::VectorXd losses = system_->losses(frequency, at, currents);
  state.L = response.inductance(circuit_);
  double copper = 0.0;
  for (const int k : system_->circuit(circuit_).coils) {
    const auto alone = system_->alone(k).resistance(frequency, average);
    const double share = std::norm(currents[k]);
    state.resistance.dc += share * alone.dc;
    state.resistance.skin += share * alone.skin;
    state.coil_resistance.push_back(2.0 * losses[k]);
    state.current_share.push_back(std::abs(currents[k]));
    copper += 2.0 * losses[k];
  }
  state.resistance.proximity = copper - state.resistance.dc - state.resistance.skin;
  state.resistance.total = response.resistance(circuit_);
  state.elsewhere = state.resistance.total - copper;
  return state;
}

coil::ResistanceTrust CoilLoad::resistance_trust(double frequency, double temperature) const {
  if (series_) return series_->resistance_trust(frequency, temperature);
  const auto& numbers = system_->circuit(circuit_).coils;
  auto worst = system_->alone(numbers.front()).resistance_trust(frequency, temperature);
  for (const int k : numbers) {
    const auto trust = system_->alone(k).resistance_trust(frequency, temperature);
    if (trust.low_by_up_to > worst.low_by_up_to) worst = trust;
  }
  return worst;
}

}  // namespace driftglow::driver
