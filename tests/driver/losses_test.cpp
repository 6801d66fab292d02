#include "models/driver/losses.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/driver/worked.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::driver;

// Energy: the table sums to what the supply gives.
TEST_CASE("the losses add up to the supply power") {
  const Outside outside("conservation of energy");
  const auto coils = worked_coils();
  const Setting load{[](double, double) { return std::complex<double>(0.3, -0.2); }};
  const auto push_pull = operating_point(worked_driver(), coils, room, load);
  const auto first = losses(worked_driver(), coils, push_pull);
  outside.matches("losses of a push-pull drive [W]", first.total(), push_pull.tank->supply_power, 1e-9);
  CHECK(first.copper.size() == 2);
  CHECK(first.tags == relative(0.15 * push_pull.current_peak * push_pull.current_peak, 1e-9));
  for (const auto bridge : {Bridge::half, Bridge::full}) {
    const VoltageFedSeries driver{bridge, 3.0, 0.1, 20e-9, 0.001, {}};
    const auto point = operating_point(driver, coils, room, load);
    const auto second = losses(driver, coils, point);
    outside.matches("losses of a bridge drive [W]", second.total(), point.tank->supply_power, 1e-9);
    CHECK(second.switches > 0.0);
  }
  const auto given = operating_point(GivenCurrent{0.5, 1e5}, coils, room);
  CHECK(losses(GivenCurrent{0.5, 1e5}, coils, given).total() == relative(given.copper_loss, 1e-9));
}

// Round trip: at the ampacity the operating point's own fixed point finds the limit, on the warmest coil.
// Density by hand: I/(pi d^2/4).
TEST_CASE("ampacity and current density") {
  const auto coils = worked_coils();
  const auto cool = operating_point(GivenCurrent{0.5, 118e3}, coils, room);
  const auto uses = copper_use(coils, cool, room);
  REQUIRE(uses.size() == 2);
  CHECK(uses[0].current_density == relative(0.5 / std::sqrt(2.0) / 0.7853982e-6, 1e-6));
  const double most = std::fmin(uses[0].ampacity_rms, uses[1].ampacity_rms);
  const auto hot = operating_point(GivenCurrent{most * std::sqrt(2.0), 118e3}, coils, room);
  CHECK(std::fmax(hot.copper_temperature[0], hot.copper_temperature[1]) == relative(enamel_class_155, 1e-6));
  MESSAGE("ampacity ", most, " A rms, ", most / 0.7853982e-6 * 1e-6, " A/mm2");
  CHECK_THROWS_AS(copper_use(coils, cool, room, 290.0), driftglow::InputError);
}
