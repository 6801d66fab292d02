#include "models/receiver/tank.hpp"

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::receiver {

void check(const TankDesign& design) {
  const auto require = [](double value, bool good, const char* sentence) {
    if (!std::isfinite(value) || !good) {
      throw InputError(sentence);
    }
  };
  require(design.inductance, design.inductance > 0.0, "tank: the inductance must be positive");
  require(design.resistance, design.resistance > 0.0, "tank: the coil resistance must be positive");
  require(design.capacitance, design.capacitance > 0.0, "tank: the capacitance must be positive");
  require(design.loss_tangent, design.loss_tangent >= 0.0, "tank: the loss tangent must be zero or positive");
  require(design.junction_capacitance, design.junction_capacitance >= 0.0,
          "tank: the junction capacitance must be zero or positive");
}

LinearResponse linear_response(const TankDesign& design, double omega) {
  const std::complex<double> impedance(design.resistance, omega * design.inductance);
  const std::complex<double> admittance(design.loss_conductance(omega), omega * design.total_capacitance());
  const std::complex<double> voltage = 1.0 / (1.0 + impedance * admittance);
  return {voltage, admittance * voltage};
}

double resonance_frequency(const TankDesign& design) {
  return 1.0 / (2.0 * constant::pi * std::sqrt(design.inductance * design.total_capacitance()));
}

double quality_factor(const TankDesign& design, double omega) {
  return 1.0 / (design.resistance / (omega * design.inductance) +
                design.loss_conductance(omega) / (omega * design.total_capacitance()));
}

}  // namespace driftglow::receiver
