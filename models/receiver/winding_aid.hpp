#pragma once

#include <span>
#include <vector>

#include "models/coil/winding.hpp"
#include "models/receiver/glow_curve.hpp"

namespace driftglow::receiver {

// Capacitance [F] that tunes L [H] to omega [rad/s], 1/(omega^2 L) less what is there already (junction and
// self-capacitance [F]). Throws InputError when that leaves nothing.
double tuning_capacitance(double inductance, double omega, double present);

// A capacitor, or two in parallel, of preferred values.
struct CapacitorChoice {
  double first, second;  // F, first >= second; second zero for a single one
  double error;          // 1, (first + second)/wanted - 1
};
// Nearest single and nearest pair to a wanted capacitance [F] > 0 out of a series of preferred values, given
// as one decade from 1 to below 10, rising (IEC 60063; the tables are the caller's). Of pairs equally near
// the one whose larger value is larger. Throws LogicError for an empty decade or a value outside 1 to 10.
CapacitorChoice nearest_single(double wanted, std::span<const double> decade);
CapacitorChoice nearest_pair(double wanted, std::span<const double> decade);

// Whole turns that fit in an axial length [m] over the enamel, at the winding's pitch, in `layers` full
// layers; zero where not even one does.
int turns_that_fit(double axial_length, int layers, const coil::Wire& wire, double pitch);

// What to buy and expect of a winding at a frequency [Hz] and copper temperature [K].
struct WindingFigures {
  double wire_length;    // m, without leads
  double copper_mass;    // kg, bare copper
  double dc_resistance;  // ohm
  double resistance;     // ohm, at the frequency
  double inductance;     // H, at the frequency
  double axial_length;   // m, over the enamel
  double outer_radius;   // m
};
// Throws InputError for an invalid winding.
WindingFigures winding_figures(const coil::Winding& winding, double frequency, double temperature);

// Tolerances of built tags: each value uniform within its own, all independent.
struct BuildTolerances {
  double inductance, capacitance;  // 1, relative, 0 <= tolerance < 1
  double led_voltage;              // V >= 0
};

// Threshold EMF of built tags [V peak].
struct ThresholdSpread {
  double nominal;
  double lowest, highest;  // over the tolerance box
  double share_within;     // 1, of built tags, threshold between the wanted limits
};
// Threshold EMF for a mean LED current [A, > 0] at omega [rad/s] over the tolerance box, and the share of
// tags whose own lies within `low` to `high` [V peak]. Deterministic: thresholds are solved at 5 Chebyshev
// points along each tolerance that is not zero (Lagrange between; what is interpolated is the logarithm of
// the threshold less that of the first harmonic's balance V |1 + Z (Y + 2 I/V)|, which carries the
// resonance), then counted at the midpoints of 50 steps a side. Counting is good to 1 % of the tags at each
// limit. Of antiparallel LEDs the weighted sum of the currents counts; both are shifted alike, which spreads
// the threshold more than a draw for each does. Costs up to 125 glow curves (0.2 s). Throws InputError for
// tolerances out of range, LogicError for a current or limits that are not positive.
ThresholdSpread threshold_spread(const TankDesign& design, double omega, double mean_current,
                                 const BuildTolerances& tolerances, double low, double high,
                                 const GlowCurve::Weights& weights = {1.0, 0.0});

}  // namespace driftglow::receiver
