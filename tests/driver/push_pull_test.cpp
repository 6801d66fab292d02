#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "tests/driver/time_integration.hpp"
#include "tests/driver/worked.hpp"
#include "tests/outside.hpp"

using namespace driftglow::driver;

namespace {

constexpr double supply = 13.3, C = 20e-9;

struct Comparison {
  OperatingPoint point;
  Swing swing;
  double peak_error() const { return point.tank->capacitor_voltage_peak / swing.tank_peak - 1.0; }
};

// The formula beside the integration in time, with a load in series with the coils that brings the circuit to
// a Q.
Comparison compare(Chokes chokes, double choke_over_coil, double Q) {
  const auto coils = worked_coils();
  CurrentFedPushPull driver{supply, 0.0, C, 0.0, Chokes::ideal, 0.0, {}, {}, {}};
  const auto bare = operating_point(driver, coils, room);
  driver.chokes = chokes;
  driver.choke_inductance = choke_over_coil * bare.L;
  const double load = std::sqrt(bare.L / C) / Q - bare.resistance.total;
  const auto point = operating_point(driver, coils, room, {[&](double, double) { return load; }});
  return {point, integrate_push_pull(chokes, supply, point.L, point.resistance.total + load, C,
                                     driver.choke_inductance)};
}

}  // namespace

// Second route for frequency, tank peak and supply current: the whole switched circuit in time. 1 % is what
// issue 4 asks for; without the choke term the frequency would be off by 6 % at 5 L, and by 15 % at 2 L.
TEST_CASE("tank peak, frequency and supply current against integration in time") {
  const Outside outside("the whole switched circuit in time (SUNDIALS CVODE)");
  for (const auto chokes : {Chokes::two, Chokes::centre_tap}) {
    for (const double Q : {100.0, 20.0, 10.0}) {
      for (const double choke : {50.0, 10.0, 5.0, 2.0}) {
        CAPTURE(Q);
        CAPTURE(choke);
        const auto both = compare(chokes, choke, Q);
        outside.matches("frequency of a push-pull drive [Hz]", both.point.frequency, both.swing.frequency,
                        0.01);
        outside.below("tank peak of a push-pull drive, relative error", std::fabs(both.peak_error()), 0.01);
        outside.matches("supply current of a push-pull drive [A]", both.point.tank->supply_current,
                        both.swing.supply_current, 0.01);
        if (Q > 50.0)
          outside.matches("frequency of a push-pull drive [Hz]", both.point.frequency, both.swing.frequency,
                          3e-4);
      }
    }
  }
}

// Where the formula leaves 1 %: at the stated choke it just holds, and at six tenths of that it does not any
// more.
TEST_CASE("the smallest choke for which the formula is within one percent") {
  for (const auto chokes : {Chokes::two, Chokes::centre_tap}) {
    const double floor = smallest_trusted_choke(chokes, 1.0);
    const double at = compare(chokes, floor, 10.0).peak_error(),
                 below = compare(chokes, 0.6 * floor, 10.0).peak_error();
    MESSAGE("peak error at ", floor, " L: ", at, ", at ", 0.6 * floor, " L: ", below);
    CHECK(std::fabs(at) < 0.0102);
    CHECK(below < -0.012);
  }
  CHECK(smallest_trusted_choke(Chokes::ideal, 1.0) == 0.0);
}
