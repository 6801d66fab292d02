#include "models/air/properties.hpp"

#include <cmath>
#include <string>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::air {
namespace {

void require_temperature(double temperature) {
  if (!(temperature >= 200.0 && temperature <= 400.0)) {
    throw InputError("air temperature is " + std::to_string(temperature) + " K; expected 200 K to 400 K");
  }
}

}  // namespace

double density(double temperature, double pressure) {
  require_temperature(temperature);
  if (!(pressure > 0.0)) {
    throw InputError("air pressure is " + std::to_string(pressure) + " Pa; expected more than 0 Pa");
  }
  return pressure * constant::molar_mass_air / (constant::molar_gas * temperature);
}

double dynamic_viscosity(double temperature) {
  require_temperature(temperature);
  return 1.458e-6 * temperature * std::sqrt(temperature) / (temperature + 110.4);
}

}  // namespace driftglow::air
