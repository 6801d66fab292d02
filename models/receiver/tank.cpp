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

SharpnessFacts sharpness(const TankDesign& design, double omega, double inductance_tolerance,
                         double capacitance_tolerance, double frequency_tolerance) {
  for (const double tolerance : {inductance_tolerance, capacitance_tolerance, frequency_tolerance}) {
    if (!(tolerance >= 0.0 && tolerance < 1.0)) {
      throw InputError("tank: a tolerance must be at least 0 and less than 100 %");
    }
  }
  SharpnessFacts facts{};
  facts.Q = quality_factor(design, omega);
  facts.half_bandwidth = 0.5 / facts.Q;
  facts.nominal_gain = std::abs(linear_response(design, omega).voltage);
  facts.worst_gain = facts.nominal_gain;
  for (const double dl : {-inductance_tolerance, inductance_tolerance}) {
    for (const double dc : {-capacitance_tolerance, capacitance_tolerance}) {
      TankDesign built = design;
      built.inductance *= 1.0 + dl;
      built.capacitance *= 1.0 + dc;
      for (const double df : {-frequency_tolerance, frequency_tolerance}) {
        const double driven = omega * (1.0 + df);
        const double off = resonance_frequency(built) * 2.0 * constant::pi / driven - 1.0;
        facts.detuning = std::fmax(facts.detuning, std::fabs(off));
        facts.worst_gain = std::fmin(facts.worst_gain, std::abs(linear_response(built, driven).voltage));
      }
    }
  }
  using Concern = SharpnessFacts::Concern;
  facts.concern = facts.Q < 3.0                                 ? Concern::dull
                  : facts.worst_gain < 0.5 * facts.nominal_gain ? Concern::sharp
                                                                : Concern::none;
  return facts;
}

}  // namespace driftglow::receiver
