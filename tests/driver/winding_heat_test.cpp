#include "models/driver/winding_heat.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;

// The boundary layer on a vertical plate by similarity, Ostrach 1953 [memory]: local Nu / (Gr/4)^(1/4) =
// 0.505 at Pr = 0.72, and 4/3 of it in the mean. Air at 303 K from a handbook's table (Incropera & DeWitt,
// A.4) [memory]: nu = 16.21 mm2/s, k = 26.53 mW/(m K). Just below Ra = 1e9 the correlation's 0.68 is 0.8 % of
// it; 1 % is less than half of what another Prandtl number's constant would make.
TEST_CASE("a vertical winding loses heat to still air as a plate by similarity") {
  const Outside outside("Ostrach 1953, similarity solution at Pr 0.72, from memory");
  constexpr double cold = 293.15, hot = 313.15, film = 303.15, height = 0.8, diameter = 0.25;
  constexpr double viscosity = 16.21e-6, conductivity = 26.53e-3, stefan_boltzmann = 5.670374419e-8;
  const double grashof = 9.80665 * (hot - cold) / film * std::pow(height, 3) / (viscosity * viscosity);
  const double nusselt = 4.0 / 3.0 * 0.505 * std::pow(0.25 * grashof, 0.25);
  const double area = std::numbers::pi * diameter * height;
  const double radiated = 0.9 * stefan_boltzmann * (std::pow(hot, 4) - std::pow(cold, 4)) * area;
  const driver::Surroundings room{cold, 101325.0};
  const double lost = driver::outer_surface_heat(diameter, height, hot, room);
  outside.matches("heat of natural convection from a winding [W]", lost - radiated,
                  nusselt * conductivity / height * (hot - cold) * area, 0.01);
  CHECK(driver::outer_surface_heat(diameter, height, cold, room) == 0.0);
  CHECK(driver::balance_temperature(lost, diameter, height, room) == relative(hot, 1e-9));
}
