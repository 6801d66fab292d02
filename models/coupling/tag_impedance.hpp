#pragma once

#include <complex>
#include <vector>

#include "models/receiver/glow_curve.hpp"

namespace driftglow::coupling {

// Fundamental of the LED's current against the amplitude of the node voltage: the LED's describing function,
// taken from a glow curve of the tank it sits in. It hardly depends on that tank (the node voltage is nearly
// a sine), so that one serves all built tags of a design.
class LedFundamental {
 public:
  // `curve` of `tank` at `omega` [rad/s].
  LedFundamental(const receiver::GlowCurve& curve, const receiver::TankDesign& tank, double omega);

  struct Point {
    double voltage_peak;           // V, amplitude of the node voltage's fundamental
    std::complex<double> current;  // A peak, against that voltage as real
  };
  const std::vector<Point>& points() const { return points_; }  // voltage rising, the first at zero

 private:
  std::vector<Point> points_;
};

// Impedance Z = E/I [ohm] that a tag puts in the way of its EMF, by the EMF's amplitude: R + j omega L and
// the tank below the knee, rising as the LED takes the tank down. Straight lines of 1/Z over even steps of E;
// beyond the last the last.
class TagImpedance {
 public:
  // From the tag's own curve: (P - jQ) = E^2/(2 Z).
  explicit TagImpedance(const receiver::GlowCurve& curve, int steps = 256);
  // From the LED's fundamental for a built tag: its tank, and the shift [V] of its LED's forward voltage,
  // which is added to the node voltage at the same current: within 2 % of |Z| for 5 % of L and C and 0.05 V.
  // Up to emf_max > 0 [V peak] or as far as the fundamental goes.
  TagImpedance(const LedFundamental& led, const receiver::TankDesign& built, double led_shift, double omega,
               double emf_max, int steps = 256);
  // A tank without LED, or unlit: the same at any EMF.
  TagImpedance(const receiver::TankDesign& tank, double omega);

  std::complex<double> at(double emf_peak) const { return 1.0 / admittance(emf_peak); }

  // 1/Z [S].
  std::complex<double> admittance(double emf_peak) const {
    const double last = static_cast<double>(admittance_.size() - 1);
    const double x = emf_peak * steps_per_volt_;
    if (!(x < last)) return admittance_.back();
    const auto i = static_cast<std::size_t>(x);
    return admittance_[i] + (x - static_cast<double>(i)) * (admittance_[i + 1] - admittance_[i]);
  }

 private:
  double steps_per_volt_ = 0.0;
  std::vector<std::complex<double>> admittance_;
};

}  // namespace driftglow::coupling
