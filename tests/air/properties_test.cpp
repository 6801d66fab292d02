#include "models/air/properties.hpp"

#include <doctest/doctest.h>

#include "models/error.hpp"
#include "tests/outside.hpp"

using namespace driftglow;

// model.md section 0: 20 degC and 101 325 Pa give 1.204 kg/m3; U.S. Standard Atmosphere 1976, table at sea
// level: 1.2250 kg/m3 at 15 degC. Tolerance: the digits given.
TEST_CASE("density of dry air meets the table") {
  const Outside outside("U.S. Standard Atmosphere 1976, tables");
  Outside("model.md section 0")
      .matches("density of air at 20 degC [kg/m3]", air::density(293.15, 101325.0), 1.204, 0.0005 / 1.204);
  outside.matches("density of dry air [kg/m3]", air::density(288.15, 101325.0), 1.2250, 0.00005 / 1.225);
  // ISO 2533 at 1000 m: 281.651 K, 89 874.6 Pa, 1.11164 kg/m3 [memory]; the two columns must agree by the gas
  // law.
  outside.matches("density of dry air [kg/m3]", air::density(281.651, 89874.6), 1.11164, 5e-5);
}

// Measured viscosities, not Sutherland's fit: CRC Handbook of Chemistry and Physics, "Viscosity of gases",
// air: 13.3 (200 K), 18.5 (300 K), 23.1 (400 K) uPa s; engineering handbooks
// (VDI-Wärmeatlas) 17.2, 18.2, 21.9 uPa s at 0, 20, 100 degC [both memory]. Tolerance: 1.2 %, the scatter
// between those tables.
TEST_CASE("viscosity meets the handbooks") {
  const Outside outside("CRC Handbook and VDI-Waermeatlas [memory]");
  outside.matches("viscosity of air [Pa s]", air::dynamic_viscosity(200.0), 13.3e-6, 0.012);
  outside.matches("viscosity of air [Pa s]", air::dynamic_viscosity(300.0), 18.5e-6, 0.012);
  outside.matches("viscosity of air [Pa s]", air::dynamic_viscosity(400.0), 23.1e-6, 0.012);
  outside.matches("viscosity of air [Pa s]", air::dynamic_viscosity(273.15), 17.2e-6, 0.012);
  outside.matches("viscosity of air [Pa s]", air::dynamic_viscosity(293.15), 18.2e-6, 0.012);
  outside.matches("viscosity of air [Pa s]", air::dynamic_viscosity(373.15), 21.9e-6, 0.012);
  // U.S. Standard Atmosphere 1976 at sea level: 1.7894e-5 Pa s, digits given.
  Outside("U.S. Standard Atmosphere 1976, tables")
      .matches("viscosity of air at 15 degC [Pa s]", air::dynamic_viscosity(288.15), 1.7894e-5, 3e-5);
}

TEST_CASE("air that is no air is refused") {
  CHECK_THROWS_AS(air::density(20.0, 101325.0), InputError);
  CHECK_THROWS_AS(air::density(293.15, 0.0), InputError);
  CHECK_THROWS_AS(air::dynamic_viscosity(500.0), InputError);
}
