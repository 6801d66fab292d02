#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "sim/store/hdf5_file.hpp"
#include "tests/outside.hpp"
#include "tests/program/run.hpp"

// What `driftglow map` stores, against closed forms.
using namespace driftglow;
using namespace driftglow::program_test;

// On the axis a turn's field is mu0 a^2/(2 (a^2 + d^2)^(3/2)) (Biot-Savart); the demo's coils are 2 x 14
// turns of mean radius 125.5 mm, 2 mm apart, at 85 and 235 mm. Near it B_r = -(r/2) dB_z/dz (div B = 0). The
// error that the file states must be within the promise.
TEST_CASE("coil.h5 holds the field of the coils") {
  const Outside outside("Biot-Savart on the axis, div B = 0 near it");
  const Folder folder;
  REQUIRE(run(folder, "map " + config("plankton_column.yaml").string() + " --quiet --out out").status == 0);
  const store::Reader file(folder / "out/coil.h5", "");
  const auto r = file.read<double>("/axes/r", 1).values, z = file.read<double>("/axes/z", 1).values;
  const auto B_z = file.read<double>("/circuit/main/B_z", 2).values,
             B_r = file.read<double>("/circuit/main/B_r", 2).values;
  CHECK(file.description("/circuit/main/B_z").unit == "T/A");
  CHECK(file.number("/check", "interpolation_error") <= 1e-4);
  CHECK(file.number("/circuit/main", "L") > 0.0);
  CHECK(file.number("/circuit/main", "R") > 0.0);
  for (std::size_t j = 0; j < z.size(); ++j) {
    double exact = 0.0, slope = 0.0;
    for (const double centre : {0.085, 0.235}) {
      for (int turn = 0; turn < 14; ++turn) {
        const double a = 0.1255, d = z[j] - centre - 0.002 * (turn - 6.5), s = a * a + d * d;
        exact += 2e-7 * std::numbers::pi * a * a / std::pow(s, 1.5);
        slope += -6e-7 * std::numbers::pi * a * a * d / std::pow(s, 2.5);
      }
    }
    // mu0 is not 4 pi 1e-7 to the last digit: 1.3e-10.
    outside.matches("axial field in coil.h5 [T/A]", B_z[j], exact, 1e-9);
    // Next term of the series: (r/a)^2 of the local field.
    outside.below("radial field near the axis in coil.h5 [T/A]",
                  std::fabs(B_r[z.size() + j] + 0.5 * r[1] * slope),
                  3.0 * std::pow(r[1] / 0.1255, 2) * r[1] / 0.1255 * exact);
  }
}

// Continuity: below the side vents the flow through every height is the whole flow (here by Simpson's rule
// over u_z 2 pi r dr on the file's nodes), at the lid what the vents leave.
TEST_CASE("air.h5 carries the flow through every height") {
  const Outside outside("continuity, Simpson's rule");
  const Folder folder;
  REQUIRE(run(folder, "map " + config("plankton_column.yaml").string() + " --quiet --out out").status == 0);
  const store::Reader file(folder / "out/air.h5", "");
  const auto r = file.read<double>("/axes/r", 1).values, z = file.read<double>("/axes/z", 1).values;
  const auto u_z = file.read<double>("/mean/u_z", 2).values;
  REQUIRE(r.size() % 2 == 1);
  for (std::size_t j = 0; j < z.size(); ++j) {
    double flow = 0.0;
    for (std::size_t i = 0; i < r.size(); ++i) {
      const double weight = i == 0 || i + 1 == r.size() ? 1.0 : i % 2 == 1 ? 4.0 : 2.0;
      flow += weight / 3.0 * (r[1] - r[0]) * 2.0 * std::numbers::pi * r[i] * u_z[i * z.size() + j];
    }
    if (z[j] < 0.229) outside.matches("flow through a height in air.h5 [m3/s]", flow, 0.07, 1e-4);
    if (j + 1 == z.size()) outside.matches("flow through a height in air.h5 [m3/s]", flow, 0.4 * 0.07, 1e-3);
  }
  for (const char* name : {"/mean/u_r", "/mean/u_theta", "/turbulence/k", "/turbulence/epsilon"}) {
    CHECK_FALSE(file.description(name).unit.empty());
  }
}
