#pragma once

#include <complex>

#include "models/receiver/led_law.hpp"

namespace driftglow::receiver {

// A tag's circuit: EMF in series with the coil (L, R), then a node with the capacitor, the LED's junction
// capacitance (taken constant) and the LED itself. The capacitor's loss is the constant parallel conductance
// omega C tan(delta) of the drive frequency; at harmonics that is less than a constant loss tangent would
// give, which is negligible because the capacitor nearly shorts them.
struct TankDesign {
  double inductance;            // H > 0
  double resistance;            // ohm > 0, of the coil at the drive frequency, taken for all harmonics
  double capacitance;           // F > 0
  double loss_tangent;          // 1, >= 0
  double junction_capacitance;  // F >= 0
  LedLaw led;

  double total_capacitance() const { return capacitance + junction_capacitance; }             // F
  double loss_conductance(double omega) const { return omega * capacitance * loss_tangent; }  // S
};

// Throws InputError naming the first value out of the range given in TankDesign.
void check(const TankDesign& design);

// Peak phasors per volt of peak EMF without the LED, exact: V = E/(1 + Z Y), I = Y V, Z = R + j omega L,
// Y = G + j omega C.
struct LinearResponse {
  std::complex<double> voltage;  // V/V, at the node
  std::complex<double> current;  // A/V, in the coil
};
LinearResponse linear_response(const TankDesign& design, double omega);

// 1/(2 pi sqrt(L C)) [Hz] with the junction capacitance in C.
double resonance_frequency(const TankDesign& design);

// Unloaded Q at omega [1]: 1/Q = R/(omega L) + G/(omega C).
double quality_factor(const TankDesign& design, double omega);

}  // namespace driftglow::receiver
