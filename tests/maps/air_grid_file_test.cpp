#include "sim/maps/air_grid_file.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <string>

#include "models/error.hpp"
#include "sim/maps/stored.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/relative.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;
using namespace driftglow::maps;

namespace {

constexpr double radius = 0.1, height = 0.3;

scenario::GriddedAir given(const std::filesystem::path& file) {
  return {file.string(), std::nullopt, 0.1, 0.0, std::nullopt};
}

// 5 x 4 nodes in other units and another order than the axes'; k and epsilon left out.
std::string good() {
  std::string text = "# anemometer, run 3\nz [cm], r [mm], u_z [cm/s], u_theta [m/s]\n\n";
  for (int j = 3; j >= 0; --j)
    for (int i = 0; i < 5; ++i)
      text += std::to_string(10 * j) + ", " + std::to_string(25 * i) + ", " +
              std::to_string(100 + i + 10 * j) + " , 0.5\r\n";
  return text;
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

std::string fault(const std::string& text) {
  const store::Folder folder;
  const auto file = folder / "air.csv";
  std::ofstream(file, std::ios::binary) << text;
  try {
    read_air_grid(given(file), radius, height);
  } catch (const InputError& error) {
    const std::string what = error.what();
    CHECK(what.find('\n') == std::string::npos);
    return what.substr(what.find("air.csv"));
  }
  return "no fault";
}

}  // namespace

TEST_CASE("a CSV of any order and unit becomes a grid in SI") {
  const store::Folder folder;
  const auto file = folder / "air.csv";
  std::ofstream(file, std::ios::binary) << good();
  const auto grid = read_air_grid(given(file), radius, height);
  REQUIRE(grid.r.size() == 5);
  REQUIRE(grid.z.size() == 4);
  CHECK(grid.r[3] == relative(0.075, 1e-12));
  CHECK(grid.z[2] == relative(0.2, 1e-12));
  CHECK(grid.u_z(3, 2) == relative(1.23, 1e-12));
  CHECK(grid.u_theta(4, 0) == 0.5);
  CHECK_FALSE(grid.u_r);
  CHECK_FALSE(grid.kinetic_energy);
  CHECK(grid.length_scale == relative(0.014, 1e-12));
  CHECK(air::project(grid).largest_speed > 1.0);
}

TEST_CASE("each fault of a CSV has its line and sentence") {
  const auto begins = [](const std::string& text, const std::string& with) {
    CAPTURE(text);
    CHECK(text.starts_with(with));
    CHECK(text.find("expected") != std::string::npos);
  };
  begins(fault(replaced(good(), "u_z [cm/s]", "w [cm/s]")), "air.csv:2: column `w` is not known");
  begins(fault(replaced(good(), "u_z [cm/s]", "u_z")), "air.csv:2: column `u_z` has no unit");
  begins(fault(replaced(good(), "u_z [cm/s]", "u_z [cm]")), "air.csv:2: column `u_z` has the unit `cm`");
  begins(fault(replaced(good(), ", u_theta [m/s]", "")), "air.csv:2: column `u_theta` is missing");
  begins(fault(replaced(good(), "u_z [cm/s]", "u_theta [m/s]")), "air.csv:2: column `u_theta` stands twice");
  begins(fault(replaced(good(), "30, 25, 131 ", "30, 25, nan ")), "air.csv:5: column `u_z` holds `nan`");
  begins(fault(replaced(good(), "30, 25, 131 ", "30, 25,  ")), "air.csv:5: column `u_z` holds ``");
  begins(fault(replaced(good(), "30, 25, 131 ", "30, 25, 131,5 ")), "air.csv:5: the line has 5 values");
  begins(fault(replaced(good(), "30, 25, 131 , 0.5\r\n", "")),
         "air.csv:22: the node at r = 25 mm, z = 300 mm is missing");
  begins(fault(replaced(good(), "30, 25, ", "30, 50, ")),
         "air.csv:6: the node at r = 50 mm, z = 300 mm stands on line 5");
  begins(fault(replaced(good(), "30, 25, ", "30, 26, ")), "air.csv:23: the node at");
  begins(fault(replaced(good(), "30, 25, ", "30, -25, ")), "air.csv:5: column `r` is below 0");
  begins(fault(replaced(good(), "30, 25, 131 ", "30, 25, 1e20 ")),
         "air.csv:5: column `u_z` holds 1e+18; expected at most 1e12 in SI units");
  begins(fault(""), "air.csv:1: the file holds no nodes");
  CHECK_THROWS_AS(read_air_grid(given("/nowhere/air.csv"), radius, height), InputError);
}

TEST_CASE("a CSV's faults are told together, ten at most, each on its line") {
  const store::Folder folder;
  const auto file = folder / "air.csv";
  std::string text = good();
  for (std::size_t at = 0; (at = text.find(" , 0.5", at)) != std::string::npos; at += 6)
    text.replace(at, 6, " , 0,5");
  std::ofstream(file, std::ios::binary) << text;
  try {
    read_air_grid(given(file), radius, height);
    FAIL("a decimal comma was taken");
  } catch (const InputError& error) {
    const std::string what = error.what();
    CHECK(std::count(what.begin(), what.end(), '\n') == 9);
    for (int line = 4; line < 14; ++line)
      CHECK(what.find("air.csv:" + std::to_string(line) + ": the line has 5 values") != std::string::npos);
  }
}

TEST_CASE("HDF5 laid out as air.h5 is read, of ours and of others") {
  const store::Folder folder;
  const auto ours = folder / "ours.h5", foreign = folder / "foreign.h5";
  {
    store::Writer file(ours, {"1", "", "", 1});
    write_axis(file, "/axes/r", {0.0, 0.025, 5}, "r");
    write_axis(file, "/axes/z", {0.0, 0.1, 4}, "z");
    const Eigen::MatrixXd u = Eigen::MatrixXd::Random(5, 4);
    for (const char* path : {"/mean/u_theta", "/mean/u_z"}) write_matrix(file, path, u, {"m/s", "u"});
    write_matrix(file, "/turbulence/k", u.cwiseAbs(), {"m2/s2", "k"});
    file.commit(store::start_run(1));
  }
  std::ifstream stream(ours, std::ios::binary);
  std::string bytes((std::istreambuf_iterator<char>(stream)), {});
  // Without our line at its end it is a file of someone else.
  std::ofstream(foreign, std::ios::binary) << bytes.substr(0, bytes.rfind("driftglow sha256"));
  const auto a = read_air_grid(given(ours), radius, height),
             b = read_air_grid(given(foreign), radius, height);
  CHECK(a.u_z == b.u_z);
  CHECK(*a.kinetic_energy == *b.kinetic_energy);
  CHECK_FALSE(b.dissipation);
  CHECK_THROWS_AS(store::Reader(foreign, ""), InputError);
  // A sealed file that was altered is refused all the same.
  bytes[bytes.size() / 2] ^= 1;
  std::ofstream(foreign, std::ios::binary) << bytes;
  CHECK_THROWS_AS(read_air_grid(given(foreign), radius, height), InputError);
}
