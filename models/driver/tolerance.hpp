#pragma once

#include <vector>

#include "models/driver/operating_point.hpp"

namespace driftglow::driver {

// How far the built drive tank may be from the computed one, relative, either way. It is common to all tags
// of a vessel, unlike their own tolerances.
struct TankTolerance {
  double inductance;   // 1, 0 to below 1: winding by hand, metal nearby
  double capacitance;  // 1, 0 to below 1
};

// One built tank, relative to the computed one.
struct TankDraw {
  double inductance = 1.0;
  double capacitance = 1.0;
};

// Uniform within the tolerance from two numbers that are uniform in 0..1. InputError for a tolerance out of
// range.
TankDraw draw_tank(const TankTolerance& tolerance, double first, double second);

// The driver with that tank. A self-oscillating one moves its frequency by about -(dL/L + dC/C)/2 (finite
// chokes: L counts less) and its coil current by -(dL/L - dC/C)/2, which moves the field too; a series one
// that follows its resonance only its frequency; at a given frequency only its current, by its detuning. A
// measured current and frequency stay what they are.
OperatingPoint built_point(const CurrentFedPushPull& driver, const CoilLoad& coils,
                           const Surroundings& surroundings, const TankDraw& draw, Setting setting = {});
OperatingPoint built_point(const VoltageFedSeries& driver, const CoilLoad& coils,
                           const Surroundings& surroundings, const TankDraw& draw, Setting setting = {});
OperatingPoint built_point(const GivenCurrent& driver, const CoilLoad& coils,
                           const Surroundings& surroundings, const TankDraw& draw, Setting setting = {});

struct TankSpread {
  double frequency_low, frequency_high;  // Hz
  double current_low, current_high;      // A peak, fundamental
};

// Over all tanks within the tolerance: from its four corners, as both move one way with either value; and the
// resonance where a given frequency meets it inside.
TankSpread tank_spread(const CurrentFedPushPull& driver, const CoilLoad& coils,
                       const Surroundings& surroundings, const TankTolerance& tolerance,
                       const Setting& setting = {});
TankSpread tank_spread(const VoltageFedSeries& driver, const CoilLoad& coils,
                       const Surroundings& surroundings, const TankTolerance& tolerance,
                       const Setting& setting = {});
TankSpread tank_spread(const GivenCurrent& driver, const CoilLoad& coils, const Surroundings& surroundings,
                       const TankTolerance& tolerance, const Setting& setting = {});

}  // namespace driftglow::driver
