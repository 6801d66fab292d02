#include "sim/maps/field_file.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <string>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/relative.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;
using namespace driftglow::maps;

namespace {

constexpr coil::Reach vessel{0.1, 0.0, 0.3}, reach{0.08, 0.02, 0.28};
constexpr double frequency = 100e3;

scenario::MeasuredField given_field(const std::filesystem::path& file) {
  return {file.string(), frequency, 1.0, std::nullopt};
}

// A harmonic field of degree two [uT]: B_z = 40 + g z, B_r = -g r/2.
constexpr double gradient = 50.0;  // uT/m

std::string axial(const std::string& header, const std::function<std::string(double, double)>& row) {
  std::string text = "# search coil, run 1\n" + header + "\n";
  for (int i = 0; i < 5; ++i)
    for (int j = 0; j < 7; ++j) text += row(0.025 * i, 0.05 * j) + "\n";
  return text;
}
std::string good_field(double B_r_factor = 1.0,
                       const std::string& header = "r [mm], z [cm], B_r [uT], B_z [nT]") {
  return axial(header, [&](double r, double z) {
    return std::to_string(1e3 * r) + ", " + std::to_string(100.0 * z) + ", " +
           std::to_string(-B_r_factor * 0.5 * gradient * r) + ", " +
           std::to_string(1e3 * (40.0 + gradient * z));
  });
}

coil::MeasuredField field_of(const std::string& text, scenario::MeasuredField scenario = given_field("")) {
  const store::Folder folder;
  const auto file = folder / "field.csv";
  std::ofstream(file, std::ios::binary) << text;
  scenario.file = file.string();
  return read_field(scenario, vessel, reach);
}

std::string field_fault(const std::string& text) {
  try {
    field_of(text);
  } catch (const InputError& error) {
    const std::string what = error.what();
    CHECK(what.find('\n') == std::string::npos);
    CHECK(what.find("; expected") != std::string::npos);
    return what.substr(what.find("field.csv"));
  }
  return "no fault";
}

}  // namespace

TEST_CASE("a field in a file is the field, in any unit, times the factor") {
  auto scenario = given_field("");
  scenario.factor = 2.0;
  const auto field = field_of(good_field(), scenario);
  const Eigen::Vector3d B = field.field({0.03, 0.04, 0.11}).col(0);
  CHECK(B.z() == relative(2e-6 * (40.0 + gradient * 0.11), 1e-3));
  CHECK(B.x() == relative(-1e-6 * gradient * 0.03, 0.02));
  CHECK(B.y() == relative(-1e-6 * gradient * 0.04, 0.02));
  CHECK(field.readings == 35);
  CHECK(field.misfit < 1e-3);
}

// U sqrt(2) = 2 pi f N A B.
TEST_CASE("volts of a search coil become teslas") {
  auto scenario = given_field("");
  scenario.search_coil = scenario::MeasuredField::SearchCoil{10.0, 1.5e-4};
  const double volts_per_tesla = 2.0 * constant::pi * frequency * 10.0 * 1.5e-4 / std::sqrt(2.0);
  const auto text = axial("r [mm], z [mm], U_r [mV], U_z [mV]", [&](double r, double z) {
    return std::to_string(1e3 * r) + ", " + std::to_string(1e3 * z) + ", " +
           std::to_string(-1e-3 * volts_per_tesla * 0.5 * gradient * r) + ", " +
           std::to_string(1e-3 * volts_per_tesla * (40.0 + gradient * z));
  });
  CHECK(field_of(text, scenario).field({0.0, 0.0, 0.1})(2, 0) == relative(45e-6, 1e-3));
  CHECK(field_fault(text).find("does not say of which coil") != std::string::npos);
}

TEST_CASE("a turning field on x, y, z, and from HDF5") {
  const store::Folder folder;
  const auto file = folder / "field.h5";
  {
    store::Writer writer(file, {"1", "", "", 1});
    const std::vector<double> x{-0.1, -0.05, 0.0, 0.05, 0.1}, z{0.0, 0.1, 0.2, 0.3};
    for (const char* path : {"/axes/x", "/axes/y"}) writer.write(path, x, {5}, {"m", "place"});
    writer.write("/axes/z", z, {4}, {"m", "place"});
    for (const std::string name : {"B_x", "B_y", "B_z", "B_x_later", "B_y_later", "B_z_later"}) {
      const double value = name == "B_z" ? 40e-6 : name == "B_x_later" ? 30e-6 : 0.0;
      writer.write("/field/" + name, std::vector<double>(100, value), {5, 5, 4}, {"T", "field"});
    }
    writer.commit(store::start_run(1));
  }
  const auto field = read_field(given_field(file), vessel, reach);
  REQUIRE(field.parts == 2);
  const Eigen::Matrix3Xd B = field.field({0.02, -0.03, 0.17});
  Eigen::Matrix3Xd expected = Eigen::Matrix3Xd::Zero(3, 2);
  expected(2, 0) = 40e-6;
  expected(0, 1) = 30e-6;
  CHECK((B - expected).norm() < 1e-3 * expected.norm());
}

TEST_CASE("each fault of a field file has its sentence") {
  const auto begins = [](const std::string& text, const std::string& with) {
    CAPTURE(text);
    CHECK(text.starts_with(with));
  };
  const std::string units = "r [mm], z [cm], B_r [uT], ";
  begins(field_fault(good_field(1.0, units + "B_z [uV]")), "field.csv:2: column `B_z` has the unit `uV`");
  begins(field_fault(good_field(1.0, units + "B [uT]")), "field.csv:2: column `B` is not known");
  begins(field_fault(good_field(1.0, units + "B_y [uT]")),
         "field.csv: column `B_y` does not belong to these axes");
  begins(field_fault(good_field(1.0, "x [mm], z [cm], B_r [uT], B_z [uT]")),
         "field.csv: the columns that say where");
  begins(field_fault(good_field(1.0, "B_x [mT], B_y [mT], B_r [uT], B_z [uT]")),
         "field.csv:2: column `z` is missing");
  // In tesla instead of nanotesla.
  begins(field_fault(good_field(1.0, units + "B_z [T]")), "field.csv: the field is ");
  auto gap = good_field();
  const auto at = gap.find("\n50.000000, 10.000000");
  REQUIRE(at != std::string::npos);
  gap.erase(at, gap.find('\n', at + 1) - at);
  begins(field_fault(gap), "field.csv:36: the node at r = 50 mm, z = 100 mm is missing");
  // Steep enough that the wrong sign shows.
  begins(field_fault(good_field(-20.0)), "field.csv: no magnetic field in air is like these readings");
  CHECK_THROWS_AS(read_field(given_field("/nowhere/field.csv"), vessel, reach), InputError);
}
