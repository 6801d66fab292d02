#include "models/driver/losses.hpp"

#include <cmath>
#include <numeric>
#include <string>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::driver {
namespace {

Losses of_coils(const CoilLoad& coils, const OperatingPoint& point) {
  Losses table{{}, 0.0, 0.0, 0.0, point.tag_power, 0.0};
  for (const double R : coils.at(point.frequency, point.copper_temperature).coil_resistance)
    table.copper.push_back(0.5 * point.current_peak * point.current_peak * R);
  table.elsewhere = point.elsewhere_loss;
  return table;
}

}  // namespace

double Losses::total() const {
  return std::accumulate(copper.begin(), copper.end(), 0.0) + harmonics + capacitor + switches + tags +
         elsewhere;
}

Losses losses(const CurrentFedPushPull& driver, const CoilLoad& coils, const OperatingPoint& point) {
  Losses table = of_coils(coils, point);
  table.capacitor = point.tank.value().capacitor_loss;
  table.switches = driver.voltage_drop * point.tank->supply_current;
  return table;
}

Losses losses(const VoltageFedSeries&, const CoilLoad& coils, const OperatingPoint& point) {
  Losses table = of_coils(coils, point);
  table.capacitor = point.tank.value().capacitor_loss;
  table.harmonics = point.bridge.value().harmonic_loss;
  table.switches = point.bridge->switch_loss;
  return table;
}

Losses losses(const GivenCurrent&, const CoilLoad& coils, const OperatingPoint& point) {
  return of_coils(coils, point);
}

std::vector<CopperUse> copper_use(const CoilLoad& coils, const OperatingPoint& point,
                                  const Surroundings& surroundings, double limit) {
  if (!(limit > surroundings.temperature) || !std::isfinite(limit))
    throw InputError("the copper's highest temperature is " + std::to_string(limit - constant::zero_celsius) +
                     " degC; it must be above the surroundings' " +
                     std::to_string(surroundings.temperature - constant::zero_celsius) + " degC");
  std::vector<CopperUse> uses;
  const auto hot =
      coils.at(point.frequency, std::vector<double>(static_cast<std::size_t>(coils.coils()), limit));
  for (int c = 0; c < coils.coils(); ++c) {
    const auto& coil = coils.coil(c);
    const double share = hot.current_share[c];
    const double rms = share * point.current_peak / std::sqrt(2.0);
    const double R = hot.coil_resistance[c];
    const double heat = outer_surface_heat(2.0 * coil.outer_radius, coil.axial_length, limit, surroundings);
    uses.push_back(
        {rms, rms / coil.wire.copper_area(), point.copper_temperature.at(c), share * std::sqrt(heat / R)});
  }
  return uses;
}

}  // namespace driftglow::driver
