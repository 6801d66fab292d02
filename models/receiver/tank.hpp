#pragma once

#include <complex>
#include <optional>

#include "models/receiver/led_law.hpp"

namespace driftglow::receiver {

// A tag's circuit: EMF in series with the coil (L, R), then a node with the capacitor, the LED's junction
// capacitance (taken constant) and the LED itself, optionally a second LED antiparallel to it: both half
// waves then give light, and each LED's reverse voltage is clamped to the other's forward voltage. The
// capacitor's loss is the constant parallel conductance omega C tan(delta) of the drive frequency; at
// harmonics that is less than a constant loss tangent would give, which is negligible because the capacitor
// nearly shorts them.
struct TankDesign {
  double inductance;            // H > 0
  double resistance;            // ohm > 0, of the coil at the drive frequency, taken for all harmonics
  double capacitance;           // F > 0
  double loss_tangent;          // 1, >= 0
  double junction_capacitance;  // F >= 0, of both LEDs where there are two
  LedLaw led;
  std::optional<LedLaw> antiparallel = std::nullopt;  // its cathode at the first one's anode

  double total_capacitance() const { return capacitance + junction_capacitance; }             // F
  double loss_conductance(double omega) const { return omega * capacitance * loss_tangent; }  // S
};

// Current out of the node into the LED or both [A] at the node voltage [V], with its derivatives: i(v) of the
// first less i(-v) of the second; increasing, as each is.
inline LedLaw::Response respond(const TankDesign& design, double voltage) {
  LedLaw::Response r = design.led.respond(voltage);
  if (design.antiparallel) {
    const LedLaw::Response other = design.antiparallel->respond(-voltage);
    r.current -= other.current;
    r.conductance += other.conductance;
    r.curvature -= other.curvature;
  }
  return r;
}

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

// Whether a tank's Q goes with its tolerances. Gains are |voltage| of linear_response().
struct SharpnessFacts {
  double Q;               // 1, at the drive frequency
  double half_bandwidth;  // 1, 1/(2 Q): relative detuning that costs 3 dB
  double detuning;        // 1, largest relative distance of resonance and drive within the tolerances
  double nominal_gain;    // V/V
  double worst_gain;      // V/V, the least in the box of tolerances
  enum class Concern {
    none,
    sharp,  // worst_gain below half of nominal_gain: tags differ, each wants trimming
    dull    // Q below 3: the resonance hardly helps
  } concern;
};
// At omega [rad/s]; relative tolerances of L, C and the drive frequency, each >= 0 and below 1. The gain has
// one maximum along each of them, so the least is at a corner of the box. The limits of concern are ours, no
// source.
SharpnessFacts sharpness(const TankDesign& design, double omega, double inductance_tolerance,
                         double capacitance_tolerance, double frequency_tolerance);

}  // namespace driftglow::receiver
