#include "models/driver/losses.hpp"

#include <cmath>
#include <numeric>
#include <string>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::driver {
namespace {

Losses of_coils(const coil::SeriesCircuit& coils, const OperatingPoint& point) {
  Losses table{{}, 0.0, 0.0, 0.0, point.tag_power};
  for (std::size_t c = 0; c < coils.coils().size(); ++c) {
    const double R =
        coils.coil_resistance(static_cast<int>(c), point.frequency, point.copper_temperature.at(c)).total;
    table.copper.push_back(0.5 * point.current_peak * point.current_peak * R);
  }
  return table;
}

}  // namespace

double Losses::total() const {
  return std::accumulate(copper.begin(), copper.end(), 0.0) + harmonics + capacitor + switches + tags;
}

Losses losses(const CurrentFedPushPull& driver, const coil::SeriesCircuit& coils,
              const OperatingPoint& point) {
  Losses table = of_coils(coils, point);
  table.capacitor = point.tank.value().capacitor_loss;
  table.switches = driver.voltage_drop * point.tank->supply_current;
  return table;
}

Losses losses(const VoltageFedSeries&, const coil::SeriesCircuit& coils, const OperatingPoint& point) {
  Losses table = of_coils(coils, point);
  table.capacitor = point.tank.value().capacitor_loss;
  table.harmonics = point.bridge.value().harmonic_loss;
  table.switches = point.bridge->switch_loss;
  return table;
}

Losses losses(const GivenCurrent&, const coil::SeriesCircuit& coils, const OperatingPoint& point) {
  return of_coils(coils, point);
}

std::vector<CopperUse> copper_use(const coil::SeriesCircuit& coils, const OperatingPoint& point,
                                  const Surroundings& surroundings, double limit) {
  if (!(limit > surroundings.temperature) || !std::isfinite(limit))
    throw InputError("the copper's highest temperature is " + std::to_string(limit - constant::zero_celsius) +
                     " degC; it must be above the surroundings' " +
                     std::to_string(surroundings.temperature - constant::zero_celsius) + " degC");
  std::vector<CopperUse> uses;
  for (std::size_t c = 0; c < coils.coils().size(); ++c) {
    const auto& coil = coils.coils()[c];
    const double radius = 0.5 * coil.wire.bare_diameter, rms = point.current_peak / std::sqrt(2.0);
    const double R = coils.coil_resistance(static_cast<int>(c), point.frequency, limit).total;
    const double heat = outer_surface_heat(2.0 * coil.outer_radius, coil.axial_length, limit, surroundings);
    uses.push_back(
        {rms, rms / (constant::pi * radius * radius), point.copper_temperature.at(c), std::sqrt(heat / R)});
  }
  return uses;
}

}  // namespace driftglow::driver
