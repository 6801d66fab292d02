#include "models/driver/operating_point.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/driver/worked.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::driver;
namespace coil = driftglow::coil;
using driftglow::constant::pi;

// model.md section 8 (an independent implementation); half a unit of the last digit, but 0.05 % for L and
// half of that for f: series_circuit_test.cpp says why.
TEST_CASE("worked numbers of the model") {
  const Outside outside("model.md section 8, an independent implementation");
  const auto coils = worked_coils();
  const auto point = operating_point(worked_driver(), coils, room);
  outside.matches("frequency of the worked drive [Hz]", point.frequency, 117.72e3, 2.5e-4);
  outside.near("coil voltage of the worked drive, peak [V]", point.coil_voltage_peak, 41.8, 0.05);
  outside.near("coil current of the worked drive, peak [A]", point.current_peak, 0.618, 0.0005);
  outside.matches("inductance of the worked drive [H]", point.L, 91.39e-6, 5e-4);
  const double centre = coil::field_of(coils.turns(), 0.0, 0.160).axial * point.current_peak;
  outside.near("field at the centre of the worked vessel, peak [T]", centre, 37.1e-6, 0.05e-6);
  REQUIRE(point.tank);
  Outside("volt-second balance of the choke, pi times the supply")
      .matches("tank peak of the worked drive [V]", point.tank->capacitor_voltage_peak, pi * 13.3, 1e-12);
  MESSAGE("R ", point.resistance.total, " ohm, Q ", point.Q(), ", loss ", point.copper_loss, " W, copper ",
          point.copper_temperature[0], " K, supply ", point.tank->supply_current, " A");
}

// Energy: what the supply gives is what copper, capacitor and drop take.
TEST_CASE("powers add up and ratings are watched") {
  const Outside outside("conservation of energy");
  auto driver = worked_driver();
  driver.supply_current_rating = 0.001;
  driver.capacitor_voltage_rating = 40.0;
  driver.capacitor_current_rating = 10.0;
  const auto point = operating_point(driver, worked_coils(), room);
  const auto& tank = *point.tank;
  outside.matches("supply power of a push-pull drive [W]", tank.supply_power,
                  point.copper_loss + tank.capacitor_loss + 0.7 * tank.supply_current, 1e-12);
  REQUIRE(tank.exceeded.size() == 2);
  CHECK(tank.exceeded[0].rating == Rating::supply_current);
  CHECK(tank.exceeded[1].rating == Rating::capacitor_voltage);
  CHECK(tank.exceeded[1].limit == 40.0);
}

// By hand: V = I |Z| and P = I^2 R/2.
TEST_CASE("given current") {
  const auto coils = worked_coils();
  const auto point = operating_point(GivenCurrent{0.5, 100e3}, coils, room);
  CHECK(point.current_peak == 0.5);
  CHECK(point.frequency == 100e3);
  CHECK(point.copper_loss == relative(0.125 * point.resistance.total, 1e-12));
  CHECK(point.coil_voltage_peak ==
        relative(0.5 * std::hypot(point.resistance.total, 2.0 * pi * 1e5 * point.L), 1e-12));
  CHECK_FALSE(point.tank);
  CHECK(point.copper_temperature[0] > room.temperature);
}

// Churchill & Chu 1975 by hand (film properties of the tables: nu 17e-6 m2/s, k 0.0270 W/(m K) at 313 K):
// plate 0.1 m high, 333.15 K in 293.15 K: Ra 3.1e6, Nu 22.1, h 5.97; radiation 0.9 sigma (T^4 - T0^4) = 251
// W/m2.
TEST_CASE("heat of a warm surface by hand") {
  const Outside outside("Churchill & Chu 1975 with film properties of the tables, by hand");
  const double area = pi * 0.2 * 0.1;
  outside.matches("heat of a warm coil's outer surface [W]", outer_surface_heat(0.2, 0.1, 333.15, room),
                  area * (5.97 * 40.0 + 251.8), 0.02);
  const double warm = balance_temperature(5.0, 0.2, 0.1, room);
  CHECK(outer_surface_heat(0.2, 0.1, warm, room) == relative(5.0, 1e-9));
  CHECK(balance_temperature(0.0, 0.2, 0.1, room) == relative(room.temperature, 1e-12));
}

TEST_CASE("hot copper has more resistance") {
  const auto coils = worked_coils();
  const auto cool = operating_point(GivenCurrent{0.1, 118e3}, coils, room);
  const auto hot = operating_point(GivenCurrent{5.0, 118e3}, coils, room);
  CHECK(hot.copper_temperature[0] > room.temperature + 20.0);
  CHECK(hot.resistance.total > 1.02 * cool.resistance.total);
}

TEST_CASE("faults") {
  const auto coils = worked_coils();
  const auto refused = [&](auto change) {
    auto driver = worked_driver();
    change(driver);
    CHECK_THROWS_AS(operating_point(driver, coils, room), driftglow::InputError);
  };
  refused([](auto& d) { d.supply_voltage = 0.0; });
  refused([](auto& d) { d.voltage_drop = 14.0; });
  refused([](auto& d) { d.capacitance = -1e-9; });
  refused([](auto& d) { d.capacitor_loss_tangent = -0.1; });
  refused([](auto& d) { d.chokes = Chokes::two; });
  refused([](auto& d) { d.capacitance = 10.0; });
  CHECK_THROWS_AS(operating_point(GivenCurrent{0.0, 1e5}, coils, room), driftglow::InputError);
}
