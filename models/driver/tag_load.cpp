#include "models/driver/tag_load.hpp"

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::driver {

TagResponse lit_response(receiver::GlowCurve curve) {
  return [curve = std::move(curve)](double, double emf_peak) {
    const auto point = curve.at(emf_peak);
    return std::complex<double>(point.real_power, point.reactive_power);
  };
}

TagResponse unlit_response(const receiver::TankDesign& tank) {
  receiver::check(tank);
  return [tank](double omega, double emf_peak) {
    return 0.5 * emf_peak * emf_peak * std::conj(receiver::linear_response(tank, omega).current);
  };
}

ReflectedImpedance reflected_by(std::vector<TagGroup> groups) {
  for (const auto& group : groups) {
    if (group.mutual_inductance.empty() || !(group.count >= 0.0))
      throw LogicError("tag load: a group without mutual inductances or with a negative count");
  }
  return [groups = std::move(groups)](double frequency, double current_peak) {
    const double omega = 2.0 * constant::pi * frequency;
    std::complex<double> power = 0.0;
    for (const auto& group : groups) {
      std::complex<double> sum = 0.0;
      for (const double mutual : group.mutual_inductance)
        sum += group.response(omega, omega * std::fabs(mutual) * current_peak);
      power += group.count / static_cast<double>(group.mutual_inductance.size()) * sum;
    }
    return 2.0 * std::conj(power) / (current_peak * current_peak);
  };
}

bool splits_resonance(const OperatingPoint& point, double capacitance, const ReflectedImpedance& tags) {
  constexpr int steps = 400;
  int crossings = 0;
  double last = 0.0;
  for (int i = 0; i <= steps; ++i) {
    const double frequency = point.frequency * std::pow(1.4, 2.0 * i / steps - 1.0);
    const double omega = 2.0 * constant::pi * frequency;
    const double reactance =
        omega * point.L - 1.0 / (omega * capacitance) + tags(frequency, point.current_peak).imag();
    if (i > 0 && (reactance < 0.0) != (last < 0.0)) ++crossings;
    last = reactance;
  }
  return crossings > 1;
}

}  // namespace driftglow::driver
