#include "models/coupling/tag_impedance.hpp"

#include <cmath>

#include "models/error.hpp"

namespace driftglow::coupling {
namespace {

using Complex = std::complex<double>;

// I/E of a point of a glow curve, E as real: S = E conj(I)/2.
Complex admittance_of(const receiver::OperatingPoint& point) {
  return 2.0 * Complex(point.real_power, -point.reactive_power) / (point.emf_peak * point.emf_peak);
}

}  // namespace

LedFundamental::LedFundamental(const receiver::GlowCurve& curve, const receiver::TankDesign& tank,
                               double omega) {
  const Complex coil(tank.resistance, omega * tank.inductance),
      branch(tank.loss_conductance(omega), omega * tank.total_capacitance());
  points_.push_back({0.0, 0.0});
  for (const auto& solved : curve.points()) {
    const auto& point = solved.value;
    if (point.emf_peak == 0.0) continue;
    const Complex current = admittance_of(point) * point.emf_peak;
    const Complex voltage = point.emf_peak - coil * current;
    const double amplitude = std::abs(voltage);
    // A deeply clamped tank's voltage stops rising in the last digits; those points carry no order.
    if (!(amplitude > points_.back().voltage_peak)) break;
    points_.push_back({amplitude, (current - branch * voltage) * std::conj(voltage) / amplitude});
  }
}

TagImpedance::TagImpedance(const receiver::GlowCurve& curve, int steps) {
  if (steps < 1) throw LogicError("tag impedance: no steps");
  steps_per_volt_ = steps / curve.emf_max();
  for (int i = 0; i <= steps; ++i) {
    // The tank is linear near zero: the value at a thousandth of a step stands for that at zero.
    admittance_.push_back(admittance_of(curve.at(std::fmax(i, 1e-3) / steps_per_volt_)));
  }
}

TagImpedance::TagImpedance(const LedFundamental& led, const receiver::TankDesign& built, double led_shift,
                           double omega, double emf_max, int steps) {
  if (steps < 1 || !(emf_max > 0.0)) throw LogicError("tag impedance: no range or no steps");
  const Complex coil(built.resistance, omega * built.inductance),
      branch(built.loss_conductance(omega), omega * built.total_capacitance());
  struct Node {
    double emf;
    Complex admittance;
  };
  const Complex linear = branch / (1.0 + coil * branch);
  std::vector<Node> nodes{{0.0, linear}};
  for (const auto& point : led.points()) {
    const double voltage = point.voltage_peak + led_shift;
    if (!(voltage > 0.0) || point.voltage_peak == 0.0) continue;
    const Complex current = branch * voltage + point.current, emf = voltage + coil * current;
    // With rising node voltage the EMF rises too: the solution is unique (steady_state.hpp).
    if (std::abs(emf) > nodes.back().emf) nodes.push_back({std::abs(emf), current / emf});
  }
  const double top = std::fmin(emf_max, nodes.back().emf);
  if (!(top > 0.0)) throw LogicError("tag impedance: the LED's fundamental has no points");
  steps_per_volt_ = steps / top;
  std::size_t next = 1;
  for (int i = 0; i <= steps; ++i) {
    const double emf = i / steps_per_volt_;
    while (next + 1 < nodes.size() && nodes[next].emf < emf) ++next;
    const Node &a = nodes[next - 1], &b = nodes[next];
    const double t = std::fmin((emf - a.emf) / (b.emf - a.emf), 1.0);
    admittance_.push_back(a.admittance + t * (b.admittance - a.admittance));
  }
}

TagImpedance::TagImpedance(const receiver::TankDesign& tank, double omega)
    : admittance_{receiver::linear_response(tank, omega).current} {}

}  // namespace driftglow::coupling
