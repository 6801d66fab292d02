#include "models/driver/winding_heat.hpp"

#include <algorithm>
#include <cmath>

#include "models/air/properties.hpp"
#include "models/constants.hpp"

namespace driftglow::driver {

double outer_surface_heat(double diameter, double height, double surface_temperature,
                          const Surroundings& surroundings) {
  const double excess = surface_temperature - surroundings.temperature;
  if (!(excess > 0.0)) return 0.0;
  constexpr double prandtl = 0.71, heat_capacity = 1006.0;  // dry air, 250 to 400 K; J/(kg K)
  constexpr double emissivity = 0.9,
                   stefan_boltzmann = 5.670374419e-8;  // varnish; W/(m2 K4), exact by the SI
  // The air laws end at 400 K; hotter copper is far outside what anyone would run.
  const double film = std::min(0.5 * (surface_temperature + surroundings.temperature), 400.0);
  const double viscosity = air::dynamic_viscosity(film);
  const double kinematic = viscosity / air::density(film, surroundings.pressure);
  const double conductivity = viscosity * heat_capacity / prandtl;
  const double rayleigh =
      constant::gravity * excess / film * height * height * height / (kinematic * kinematic) * prandtl;
  const double nusselt = 0.68 + 0.670 * std::pow(rayleigh, 0.25) /
                                    std::pow(1.0 + std::pow(0.492 / prandtl, 9.0 / 16.0), 4.0 / 9.0);
  const double radiated = emissivity * stefan_boltzmann *
                          (std::pow(surface_temperature, 4) - std::pow(surroundings.temperature, 4));
  return constant::pi * diameter * height * (nusselt * conductivity / height * excess + radiated);
}

double balance_temperature(double loss, double diameter, double height, const Surroundings& surroundings) {
  double low = surroundings.temperature, high = surroundings.temperature + 1000.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (outer_surface_heat(diameter, height, middle, surroundings) < loss ? low : high) = middle;
  }
  return high;
}

}  // namespace driftglow::driver
