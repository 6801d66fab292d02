#pragma once

#include <optional>
#include <vector>

#include "models/coil/series_circuit.hpp"
#include "models/driver/winding_heat.hpp"

namespace driftglow::driver {

enum class Chokes { ideal, two, centre_tap };

// Two-transistor self-oscillating resonant driver that switches at zero volts, fed through chokes; capacitor
// and coil circuit in parallel between its ends.
struct CurrentFedPushPull {
  double supply_voltage;          // V
  double voltage_drop;            // V, of switch and choke
  double capacitance;             // F
  double capacitor_loss_tangent;  // 1
  Chokes chokes;
  double choke_inductance;  // H, each choke or the one at the centre tap; unused when ideal
  std::optional<double> supply_current_rating;     // A
  std::optional<double> capacitor_voltage_rating;  // V peak
  std::optional<double> capacitor_current_rating;  // A rms
};

// Current and frequency as measured.
struct GivenCurrent {
  double current_peak;  // A
  double frequency;     // Hz
};

enum class Rating { supply_current, capacitor_voltage, capacitor_current };

struct Exceeded {
  Rating rating;
  double value, limit;  // V peak, A rms, A, as the rating's
};

// What only a driver with its own tank has.
struct TankPoint {
  double capacitor_voltage_peak;  // V, the tank's end to end
  double capacitor_current_rms;   // A
  double capacitor_loss;          // W
  double supply_current;          // A
  double supply_power;            // W, with the drop's loss
  std::vector<Exceeded> exceeded;
};

struct OperatingPoint {
  double frequency;                        // Hz
  double current_peak;                     // A, in the coils
  double coil_voltage_peak;                // V, over all coils
  double L;                                // H, at the frequency
  coil::Resistance resistance;             // ohm, at the frequency and the copper's temperatures
  coil::ResistanceTrust resistance_trust;  // of the proximity part
  double copper_loss;                      // W
  std::vector<double> copper_temperature;  // K, a coil; balance_temperature() says how
  std::optional<TankPoint> tank;
  double Q() const;  // 1, omega L / R of the coils
};

// Without tags. Tank peak end to end = pi (supply - drop) (volt-second balance of the chokes; common
// practice: 12-14 V gives about 40 V). The frequency is that of unity power factor,
//   omega C = kappa/(omega L_ch) + omega L/(R^2 + omega^2 L^2):
// with ideal chokes omega^2 = 1/(LC) - (R/L)^2; without loss f = sqrt((1/L + kappa/L_ch)/C)/(2 pi), the
// chokes acting like one more inductance L_ch/kappa across the tank, kappa = 1 - 4/pi^2 (two) or (1 -
// 8/pi^2)/4 (centre tap). L and R follow frequency and temperature to a fixed point. Coil current = V/|R + j
// omega L|. Neglected: harmonics of the tank voltage (Q above 5), switch capacitance, the drop's wave form,
// losses in the choke beyond the drop. Throws InputError for a value that is not positive (loss tangent:
// negative), a drop not below the supply, or coils so lossy that they do not resonate with the capacitor.
OperatingPoint operating_point(const CurrentFedPushPull& driver, const coil::SeriesCircuit& coils,
                               const Surroundings& surroundings);

// Throws InputError for a current or frequency that is not positive.
OperatingPoint operating_point(const GivenCurrent& driver, const coil::SeriesCircuit& coils,
                               const Surroundings& surroundings);

}  // namespace driftglow::driver
