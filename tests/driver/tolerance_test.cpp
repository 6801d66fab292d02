#include "models/driver/tolerance.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/driver/worked.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::driver;
using driftglow::constant::pi;

// Closed form: f = 1/(2 pi sqrt(L C)) and I = V/(2 pi f L) = V sqrt(C/L), ideal chokes; loss enters by 1/Q^2
// = 1e-4.
TEST_CASE("a push-pull with a built tank") {
  const Outside outside("closed form f ~ 1/sqrt(L C), I ~ sqrt(C/L)");
  const auto coils = worked_coils();
  const auto nominal = operating_point(worked_driver(), coils, room);
  for (const TankDraw draw : {TankDraw{1.03, 1.0}, TankDraw{1.0, 0.95}, TankDraw{0.97, 1.05}}) {
    const auto built = built_point(worked_driver(), coils, room, draw);
    outside.matches("frequency of a built push-pull tank [Hz]", built.frequency,
                    nominal.frequency / std::sqrt(draw.inductance * draw.capacitance), 1e-4);
    outside.matches("coil current of a built push-pull tank [A]", built.current_peak,
                    nominal.current_peak * std::sqrt(draw.capacitance / draw.inductance), 1e-4);
  }
  const auto spread = tank_spread(worked_driver(), coils, room, {0.03, 0.05});
  outside.matches("frequency limits of a push-pull tank [Hz]", spread.frequency_low,
                  nominal.frequency / std::sqrt(1.03 * 1.05), 1e-4);
  outside.matches("frequency limits of a push-pull tank [Hz]", spread.frequency_high,
                  nominal.frequency / std::sqrt(0.97 * 0.95), 1e-4);
  outside.matches("current limits of a push-pull tank [A]", spread.current_low,
                  nominal.current_peak * std::sqrt(0.95 / 1.03), 1e-4);
  outside.matches("current limits of a push-pull tank [A]", spread.current_high,
                  nominal.current_peak * std::sqrt(1.05 / 0.97), 1e-4);
}

// By hand (the internal inductance moves with the frequency by some 1e-5): a following bridge keeps its
// current (R alone sets it), a fixed one its frequency; with the range across the resonance its largest
// current is the resonant one.
TEST_CASE("a series driver with a built tank") {
  const Outside outside("closed form of a series resonance");
  const auto coils = worked_coils();
  VoltageFedSeries driver{Bridge::half, 1.2, 0.5, 20e-9, 0.0, {}};
  const auto nominal = operating_point(driver, coils, room);
  const auto follows = tank_spread(driver, coils, room, {0.02, 0.02});
  outside.matches("frequency limits of a following bridge [Hz]", follows.frequency_low,
                  nominal.frequency / 1.02, 1e-4);
  outside.matches("frequency limits of a following bridge [Hz]", follows.frequency_high,
                  nominal.frequency / 0.98, 1e-4);
  CHECK(follows.current_high == relative(nominal.current_peak, 0.02));
  driver.frequency = nominal.frequency * 1.01;
  const auto fixed = tank_spread(driver, coils, room, {0.02, 0.02});
  CHECK(fixed.frequency_low == *driver.frequency);
  CHECK(fixed.frequency_high == *driver.frequency);
  CHECK(fixed.current_high == relative(nominal.current_peak, 0.01));
  // Off by 3 % at most: |Z| = hypot(R, 2 x 0.03 omega L) within a few per cent.
  const double R = nominal.resistance.total + 0.5, X = 2.0 * pi * nominal.frequency * nominal.L;
  outside.matches("lowest current of a fixed bridge [A]", fixed.current_low,
                  nominal.current_peak * R / std::hypot(R, 2.0 * 0.03 * X), 0.03);
  const auto exact = tank_spread(driver, coils, room, {0.0, 0.0});
  CHECK(exact.current_low == exact.current_high);
}

TEST_CASE("a measured drive has no tolerance; draws stay inside theirs") {
  const auto coils = worked_coils();
  const auto spread = tank_spread(GivenCurrent{0.5, 1e5}, coils, room, {0.1, 0.1});
  CHECK(spread.frequency_low == 1e5);
  CHECK(spread.current_high == 0.5);
  const auto draw = draw_tank({0.1, 0.2}, 0.0, 0.75);
  CHECK(draw.inductance == relative(0.9, 1e-12));
  CHECK(draw.capacitance == relative(1.1, 1e-12));
  CHECK_THROWS_AS(draw_tank({1.0, 0.0}, 0.5, 0.5), driftglow::InputError);
  CHECK_THROWS_AS(draw_tank({0.0, -0.1}, 0.5, 0.5), driftglow::InputError);
}
