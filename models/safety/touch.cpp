#include "models/safety/touch.hpp"

#include <cmath>

#include "models/error.hpp"

namespace driftglow::safety {

std::vector<TouchLevel> touch_levels() {
  return {{TouchRule::wet, 12.0, 30.0},
          {TouchRule::dry, 25.0, 60.0},
          {TouchRule::instrument, 30.0, 60.0},
          {TouchRule::extra_low, 50.0, 120.0}};
}

double contact_current_level(Population population, double frequency) {
  if (!(frequency > 0.0) || frequency > 110e6)
    throw LogicError("contact current level asked for outside 0 to 110 MHz");
  // Public, in amperes: 0.5 mA to 2.5 kHz, 0.2 mA times kilohertz to 100 kHz, 20 mA above. Trained staff:
  // twice that.
  const double everyone = 1e-3 * std::fmin(20.0, std::fmax(0.5, 0.2e-3 * frequency));
  return population == Population::general_public ? everyone : 2.0 * everyone;
}

Touch touch_of(double voltage_peak, double frequency) {
  if (!(voltage_peak >= 0.0)) throw LogicError("touch voltage is not 0 or more");
  const double rms = voltage_peak / std::sqrt(2.0);
  return {voltage_peak, rms, rms / body_resistance,
          contact_current_level(Population::general_public, frequency), touch_levels()};
}

}  // namespace driftglow::safety
