#pragma once

#include <complex>
#include <functional>
#include <optional>
#include <vector>

#include "models/driver/coil_load.hpp"
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

// half: one arm, the coil between it and a supply rail, so that the series capacitor also holds off half of
// the supply; full: two arms in opposite phase.
enum class Bridge { half, full };

// Square-wave inverter into the coils in series with a capacitor.
struct VoltageFedSeries {
  Bridge bridge;
  double supply_voltage;            // V
  double switch_resistance;         // ohm >= 0, of each closed switch
  double capacitance;               // F
  double capacitor_loss_tangent;    // 1
  std::optional<double> frequency;  // Hz; empty: follows the resonance of coils, capacitor and tags
  std::optional<double> supply_current_rating{};     // A
  std::optional<double> capacitor_voltage_rating{};  // V peak
  std::optional<double> capacitor_current_rating{};  // A rms
};

// Current and frequency as measured.
struct GivenCurrent {
  double current_peak;  // A
  double frequency;     // Hz
};

// What is in series with the coils besides themselves [ohm], at a frequency [Hz] and a peak coil current [A]:
// the tags (tag_load.hpp). Real part >= 0.
using ReflectedImpedance = std::function<std::complex<double>(double frequency, double current_peak)>;

// How this set differs from the coils by themselves.
struct Setting {
  ReflectedImpedance reflected{};  // empty: none
  double inductance_factor = 1.0;  // 1, built over computed inductance of the coils, > 0
};

enum class Rating { supply_current, capacitor_voltage, capacitor_current };

struct Exceeded {
  Rating rating;
  double value, limit;  // V peak, A rms, A, as the rating's
};

// What only a driver with its own tank has.
struct TankPoint {
  double capacitor_voltage_peak;  // V, over the capacitor, with a half bridge's dc part
  double capacitor_current_rms;   // A
  double capacitor_loss;          // W
  double supply_current;          // A
  double supply_power;            // W, with the losses of drop or switches
  std::vector<Exceeded> exceeded;
};

// What only an inverter has. Wave forms with the harmonics of the square wave.
struct BridgePoint {
  double fundamental_peak;  // V, of the square wave
  double arm_amplitude;     // V, of the square wave itself
  double wave_peak;         // A, largest coil current
  double wave_rms;          // A
  double distortion;        // 1, rms of the harmonics over that of the fundamental, coil current
  double third_harmonic;    // 1, its share of the fundamental's current
  double switched_current;  // A, at the change-over; positive: the current lags, the switches open loaded and
                            // close at zero volts; negative: the body diodes are cut off hard
  double power_factor;      // 1, of the fundamental
  double switch_loss;       // W, conduction only
  double harmonic_loss;     // W, in the copper above the fundamental
  double off_resonance;     // 1, frequency over that of zero reactance at this load, less 1
};

struct OperatingPoint {
  double frequency;                        // Hz
  double current_peak;                     // A, in the coils
  double coil_voltage_peak;                // V, over all coils
  double L;                                // H, at the frequency
  coil::Resistance resistance;             // ohm, at the frequency and the copper's temperatures
  coil::ResistanceTrust resistance_trust;  // of the proximity part
  double copper_loss;                      // W, of the circuit's own coils
  std::vector<double> copper_temperature;  // K, a coil; balance_temperature() says how
  std::optional<TankPoint> tank;
  std::optional<BridgePoint> bridge{};
  std::complex<double> reflected{};  // ohm, of the tags in series with the coils
  double tag_power = 0.0;            // W, drawn by the tags
  double elsewhere_loss = 0.0;       // W, in passive conductors and other circuits' coils
  double Q() const;                  // 1, omega L / R of the coils
};

// Tank peak end to end = pi (supply - drop) (volt-second balance of the chokes; common practice: 12-14 V
// gives about 40 V). The frequency is that of unity power factor,
//   omega C = kappa/(omega L_ch) + omega L/(R^2 + omega^2 L^2):
// with ideal chokes omega^2 = 1/(LC) - (R/L)^2; without loss f = sqrt((1/L + kappa/L_ch)/C)/(2 pi), the
// chokes acting like one more inductance L_ch/kappa across the tank, kappa = 1 - 4/pi^2 (two) or (1 -
// 8/pi^2)/4 (centre tap). L and R follow frequency and temperature to a fixed point; what the tags reflect is
// added to both. Coil current = V/|R + j omega L|. Neglected: harmonics of the tank voltage, switch
// capacitance, the drop's wave form, losses in the choke beyond the drop. Against integration in time of the
// whole circuit f, peak and supply current hold within 1 % for Q > 10 and chokes from
// smallest_trusted_choke() on; smaller ones raise the real peak (3 % at 0.3 L), f stays within 0.6 % down to
// Q = 5. Throws InputError for a value that is not positive (loss tangent: negative), a drop not below the
// supply, coils so lossy that they do not resonate with the capacitor, or tags coupled so closely that no
// frequency settles.
OperatingPoint operating_point(const CurrentFedPushPull& driver, const CoilLoad& coils,
                               const Surroundings& surroundings, const Setting& setting = {});

// Choke [H], each of two or the one at the centre tap, below which the tank's real peak exceeds pi (supply -
// drop) by more than 1 % at Q = 10 (integration in time, tests/driver/push_pull_test.cpp): 1.7 L and 1.2 L;
// zero for ideal ones. L [H] of the coils.
double smallest_trusted_choke(Chokes chokes, double L);

// The bridge's square wave of amplitude V_s/2 (half) or V_s (full) has the odd harmonics 4 amplitude/(pi n);
// each drives its current through Z_n = R_n + n_s R_on + tan(delta)/(n omega C) + j (n omega L - 1/(n omega
// C)), n_s switches in the path (1 or 2), R_n and L_n of the coils at n f, the tags at the fundamental only
// (their capacitors short the rest). Without a given frequency omega is where the reactance vanishes, tags
// included: what a phase-locked bridge finds. current_peak is the fundamental's: it makes field and EMF. Tank
// voltage: ac part with the harmonics' magnitudes added (at most 1/(8 Q n) each on resonance), plus V_s/2 for
// the half bridge. Supply current = mean power/V_s. Neglected: dead time, switching loss, switch capacitance,
// harmonics in the copper's temperature (below 1e-4 of the loss for Q > 10 near resonance). Throws InputError
// as above.
OperatingPoint operating_point(const VoltageFedSeries& driver, const CoilLoad& coils,
                               const Surroundings& surroundings, const Setting& setting = {});

// Throws InputError for a current or frequency that is not positive.
OperatingPoint operating_point(const GivenCurrent& driver, const CoilLoad& coils,
                               const Surroundings& surroundings, const Setting& setting = {});

// What the supply gives for a power taken from the coils at their current [W]: the push-pull driver's current
// passes its drop too; a bridge's switches carry the coils' current, whatever is taken.
double supply_for(const CurrentFedPushPull& driver, double power);
double supply_for(const VoltageFedSeries& driver, double power);
double supply_for(const GivenCurrent& driver, double power);

// Coil current of the series driver when its frequency is off resonance by each relative deviation, over that
// on resonance [1]; by hand about 1/sqrt(1 + (2 Q d)^2), Q of the whole circuit. Deviations > -1.
std::vector<double> off_resonance_current(const VoltageFedSeries& driver, const CoilLoad& coils,
                                          const Surroundings& surroundings,
                                          const std::vector<double>& deviations, const Setting& setting = {});

}  // namespace driftglow::driver
