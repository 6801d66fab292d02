#pragma once

#include <vector>

#include "models/safety/exposure.hpp"

namespace driftglow::safety {

// What may be touched without an insulating cover, by place: wet: 12 V ac or 30 V dc; dry: 25 V or 60 V (both
// IEC 60364-4-41, 414.4.5); instrument: 30 V ac or 60 V dc, the limit for touchable parts of equipment (IEC
// 61010-1, IEC 61140); extra_low: 50 V or 120 V, the end of extra-low voltage, above which a fault must be
// cut off.
enum class TouchRule { wet, dry, instrument, extra_low };

// Levels [V], from memory of the standards named, for 15 Hz to 1 kHz and for ripple-free dc. At the drive's
// frequency the shock is felt less but the skin burns: no higher level is taken for it.
struct TouchLevel {
  TouchRule rule;
  double ac_rms, dc;
};
std::vector<TouchLevel> touch_levels();

// Contact current [A rms] that guidelines take as the most for a point contact with a finger; 0 < frequency
// <= 110 MHz [Hz], else LogicError. [icnirp2010] table 5 to 10 MHz, [icnirp1998] from there on, where it
// stays the same; both from memory.
double contact_current_level(Population population, double frequency);

// Coil ends (or any two bare points).
struct Touch {
  double voltage_peak, voltage_rms;  // V, sine
  double contact_current;            // A rms, through body_resistance
  double contact_current_level;      // A rms, general public; above it a touch can be felt as heat or burn
  std::vector<TouchLevel> levels;    // lowest first
  double ratio(const TouchLevel& level) const { return voltage_rms / level.ac_rms; }
};

// Hand to hand at high frequency, where the skin's capacitance no longer counts: the body's inner resistance,
// 500 to 600 ohm above some kilohertz ([iec60479_1], from memory); skin dry or wet makes no difference there.
inline constexpr double body_resistance = 500.0;  // ohm

// voltage_peak >= 0 [V], frequency as above.
Touch touch_of(double voltage_peak, double frequency);

}  // namespace driftglow::safety
