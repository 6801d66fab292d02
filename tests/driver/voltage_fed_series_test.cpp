#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/driver/time_integration.hpp"
#include "tests/driver/worked.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::driver;
using driftglow::constant::pi;

namespace {

VoltageFedSeries bridge_driver(Bridge bridge) {
  return {bridge, 1.2, 0.05, 20e-9, 0.001, {}};
}

// Resistance of the whole path at the fundamental.
double path(const VoltageFedSeries& driver, const OperatingPoint& point) {
  return point.resistance.total + (driver.bridge == Bridge::full ? 2.0 : 1.0) * driver.switch_resistance +
         driver.capacitor_loss_tangent / (2.0 * pi * point.frequency * driver.capacitance);
}

}  // namespace

// By hand: fundamental 2V/pi and 4V/pi (Fourier series of the square wave), at resonance all of it over the
// resistances.
TEST_CASE("on resonance only the resistances are left") {
  const Outside outside("Fourier series of the square wave and series resonance");
  const auto coils = worked_coils();
  for (const auto bridge : {Bridge::half, Bridge::full}) {
    const auto driver = bridge_driver(bridge);
    const auto point = operating_point(driver, coils, room);
    const double fundamental = (bridge == Bridge::full ? 4.0 : 2.0) * 1.2 / pi;
    outside.matches("fundamental of a bridge [V]", point.bridge->fundamental_peak, fundamental, 1e-12);
    outside.matches("resonance frequency of a bridge drive [Hz]", point.frequency,
                    1.0 / (2.0 * pi * std::sqrt(point.L * 20e-9)), 1e-12);
    outside.matches("coil current of a bridge at resonance [A]", point.current_peak,
                    fundamental / path(driver, point), 1e-9);
    CHECK(point.bridge->power_factor == relative(1.0, 1e-9));
    CHECK(std::fabs(point.bridge->off_resonance) < 1e-9);
    // Energy: what the supply gives is what copper, capacitor and switches take.
    Outside("conservation of energy")
        .matches("supply power of a bridge drive [W]", point.tank->supply_power,
                 point.copper_loss + point.bridge->harmonic_loss + point.tank->capacitor_loss +
                     point.bridge->switch_loss,
                 1e-9);
    CHECK(point.tank->supply_current == relative(point.tank->supply_power / 1.2, 1e-12));
    MESSAGE("I ", point.current_peak, " A, capacitor ", point.tank->capacitor_voltage_peak, " V, supply ",
            point.tank->supply_current, " A, distortion ", point.bridge->distortion);
  }
}

// Second route: the switched circuit in time, on resonance and off it on both sides, at high and low Q. The
// model lets R rise with the harmonics' frequency, the integration holds it: they carry 1e-4 of the loss on
// resonance and up to 1e-2 far off it, hence 0.2 % off resonance for power and 0.1 % for the rest.
TEST_CASE("currents, voltages and power against integration in time") {
  const Outside outside("the switched circuit in time (SUNDIALS CVODE)");
  const auto coils = worked_coils();
  for (const double load : {0.0, 5.0, 20.0}) {
    for (const double deviation : {0.0, 0.05, -0.05, 0.3}) {
      CAPTURE(load);
      CAPTURE(deviation);
      auto driver = bridge_driver(Bridge::half);
      driver.switch_resistance += load;
      driver.frequency = operating_point(driver, coils, room).frequency * (1.0 + deviation);
      const auto point = operating_point(driver, coils, room);
      const auto& bridge = *point.bridge;
      const double R = path(driver, point);
      const auto run = integrate_square(0.6, *driver.frequency, point.L, R, 20e-9);
      // The coils' own inductance falls by 5e-4 over that range of frequency.
      CHECK(std::fabs(bridge.off_resonance - deviation) < 5e-4);
      outside.matches("coil current of a bridge, fundamental [A]", point.current_peak, run.fundamental, 1e-3);
      outside.matches("coil current of a bridge, peak of the wave [A]", bridge.wave_peak, run.wave_peak,
                      3e-3);
      outside.matches("coil current of a bridge, rms of the wave [A]", bridge.wave_rms, run.wave_rms, 1e-3);
      outside.matches(
          "distortion of a bridge's current", bridge.distortion,
          std::sqrt(2.0 * run.wave_rms * run.wave_rms / (run.fundamental * run.fundamental) - 1.0), 0.02);
      outside.matches("supply power of a bridge [W]", point.tank->supply_power, run.power, 5e-3);
      outside.near("current at switching of a bridge [A]", bridge.switched_current, run.switched_current,
                   3e-3 * run.wave_peak);
      CHECK(point.tank->capacitor_voltage_peak >= 0.6 + run.capacitor_peak * (1.0 - 1e-3));
      CHECK(point.tank->capacitor_voltage_peak < 0.6 + run.capacitor_peak * 1.06);
    }
  }
}

// The resonance curve 1/sqrt(1 + Q^2 (x - 1/x)^2), x = f/f0 (textbook), R all but constant over it.
TEST_CASE("off-resonance current is the resonance curve") {
  const Outside outside("resonance curve (textbook)");
  const auto coils = worked_coils();
  const auto driver = bridge_driver(Bridge::full);
  const auto point = operating_point(driver, coils, room);
  const double Q = 2.0 * pi * point.frequency * point.L / path(driver, point);
  const std::vector<double> deviations{-0.02, -0.5 / Q, 0.0, 0.5 / Q, 0.02};
  const auto ratio = off_resonance_current(driver, coils, room, deviations);
  for (std::size_t i = 0; i < deviations.size(); ++i) {
    const double x = 1.0 + deviations[i];
    outside.matches("off-resonance current of a bridge over resonance", ratio[i],
                    1.0 / std::hypot(1.0, Q * (x - 1.0 / x)), 0.02);
  }
  outside.matches("current at half bandwidth of a bridge over resonance", ratio[1], std::sqrt(0.5), 0.02);
}

TEST_CASE("series driver: faults and ratings") {
  const auto coils = worked_coils();
  const auto refused = [&](auto change) {
    auto driver = bridge_driver(Bridge::half);
    change(driver);
    CHECK_THROWS_AS(operating_point(driver, coils, room), driftglow::InputError);
  };
  refused([](auto& d) { d.supply_voltage = 0.0; });
  refused([](auto& d) { d.switch_resistance = -1.0; });
  refused([](auto& d) { d.capacitance = 0.0; });
  refused([](auto& d) { d.frequency = 0.0; });
  refused([](auto& d) { d.capacitor_loss_tangent = 1.0; });
  auto driver = bridge_driver(Bridge::half);
  driver.supply_current_rating = 0.01;
  driver.capacitor_voltage_rating = 1.0;
  driver.capacitor_current_rating = 100.0;
  const auto point = operating_point(driver, coils, room);
  REQUIRE(point.tank->exceeded.size() == 2);
  CHECK(point.tank->exceeded[0].rating == Rating::supply_current);
  CHECK(point.tank->exceeded[1].rating == Rating::capacitor_voltage);
}
