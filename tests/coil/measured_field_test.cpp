#include "models/coil/measured_field.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "models/error.hpp"
#include "tests/coil/crossed_coils.hpp"
#include "tests/coil/demo_coils.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::coil;
using Eigen::Vector3d;

namespace {

constexpr Reach vessel{0.095, 0.0, 0.32};

std::vector<double> even(double low, double high, int count) {
  std::vector<double> nodes;
  for (int i = 0; i < count; ++i) nodes.push_back(low + (high - low) * i / (count - 1));
  return nodes;
}

// Readings of a field, with Gaussian scatter of every component.
template <class Field>
FieldGrid read(FieldGrid::Kind kind, std::vector<std::vector<double>> axes, const Field& field,
               double scatter) {
  FieldGrid grid{kind, std::move(axes), {}};
  std::mt19937_64 engine(5);
  std::normal_distribution<double> normal(0.0, 1.0);
  std::vector<Eigen::MatrixXd> rows;
  const bool axial = kind == FieldGrid::Kind::axial;
  const std::vector<double> middle = axial ? std::vector{0.0} : grid.axes[1];
  std::vector<Eigen::Matrix3Xd> values;
  for (const double x : grid.axes[0])
    for (const double y : middle)
      for (const double z : grid.axes.back()) values.push_back(field(Vector3d(x, y, z)));
  for (Eigen::Index part = 0; part < values.front().cols(); ++part) {
    Eigen::MatrixXd all(axial ? 2 : 3, static_cast<Eigen::Index>(values.size()));
    for (std::size_t n = 0; n < values.size(); ++n) {
      const Vector3d B = values[n].col(part);
      if (axial)
        all.col(static_cast<Eigen::Index>(n)) << B.x(), B.z();
      else
        all.col(static_cast<Eigen::Index>(n)) = B;
    }
    for (double& value : all.reshaped()) value += scatter * normal(engine);
    grid.parts.push_back(all);
  }
  return grid;
}

template <class Field>
double rms_error(const MeasuredField& fit, const Field& field, Reach reach = demo_reach) {
  std::mt19937_64 engine(99);
  double off = 0.0, all = 0.0;
  for (int i = 0; i < 2000; ++i) {
    const Vector3d p = random_in(reach, engine);
    const Eigen::Matrix3Xd want = field(p);
    off += (fit.field(p) - want).squaredNorm();
    all += want.squaredNorm();
  }
  return std::sqrt(off / all);
}

const CoilSystem& pair() {
  static const CoilSystem system = [] {
    const Winding w{0.240, 12.0, 1, {1.0e-3, 1.06e-3}, 2.0e-3};
    return CoilSystem({{wind(w, 0.0, Sense::right_handed), Placement({0.0, 0.0, 0.08}, Vector3d::UnitZ())},
                       {wind(w, 0.0, Sense::right_handed), Placement({0.0, 0.0, 0.24}, Vector3d::UnitZ())}},
                      {{Connection::series, {0, 1}}});
  }();
  return system;
}
Eigen::Matrix3Xd of_pair(const Vector3d& p) {
  return pair().fields(p) * Eigen::VectorXd::Ones(2);
}

// Tilted, so that nothing about it is axial; two parts.
Eigen::Matrix3Xd of_crossed(const Vector3d& p) {
  static const CoilSystem system = crossed_coils({});
  Eigen::MatrixXd currents(system.conductors(), 2);
  currents.setZero();
  currents(0, 0) = 0.6;
  currents(1, 1) = 0.4;
  return system.fields(p) * currents;
}

}  // namespace

// The field of two coils by Biot and Savart is what the readings are made of; a grid of 16 x 20 mm and 25 mm.
TEST_CASE("a field read without error is the field") {
  const auto axial =
      fit_field(read(FieldGrid::Kind::axial, {even(0.0, 0.08, 6), even(0.02, 0.3, 15)}, of_pair, 0.0), vessel,
                demo_reach);
  MESSAGE("axial: misfit ", axial.misfit, ", error ", rms_error(axial, of_pair), ", divergence ",
          axial.divergence_before);
  CHECK(axial.misfit < 2e-3);
  CHECK(rms_error(axial, of_pair) < 3e-3);
  CHECK(axial.parts == 1);
  CHECK_FALSE(axial.remedy);

  const auto wide = even(-0.075, 0.075, 7);
  const auto cartesian =
      fit_field(read(FieldGrid::Kind::cartesian, {wide, wide, even(0.045, 0.195, 7)}, of_crossed, 0.0),
                crossed_covered, crossed_reach);
  MESSAGE("cartesian: misfit ", cartesian.misfit, ", error ",
          rms_error(cartesian, of_crossed, crossed_reach));
  CHECK(cartesian.parts == 2);
  CHECK(cartesian.misfit < 5e-3);
  CHECK(rms_error(cartesian, of_crossed, crossed_reach) < 5e-3);
}

// Central differences of the fit between the nodes.
TEST_CASE("the fit has neither sources nor eddies in the vessel, whatever the noise") {
  const auto fit =
      fit_field(read(FieldGrid::Kind::axial, {even(0.0, 0.08, 6), even(0.02, 0.3, 15)}, of_pair, 3e-6),
                vessel, demo_reach);
  const Outside maxwell("Maxwell's equations in air, quasistatic");
  std::mt19937_64 engine(7);
  const double h = 3e-5;
  for (int i = 0; i < 100; ++i) {
    const Vector3d p = random_in(demo_reach, engine);
    Eigen::Matrix3d slope;
    for (int k = 0; k < 3; ++k)
      slope.col(k) =
          (fit.field(p + h * Vector3d::Unit(k)) - fit.field(p - h * Vector3d::Unit(k))) / (2.0 * h);
    const double scale = fit.rms / 0.1;
    maxwell.below("div B of a fitted field over B/(0.1 m) [1]", std::fabs(slope.trace()) / scale, 1e-5);
    maxwell.below("curl B of a fitted field over B/(0.1 m) [1]", (slope - slope.transpose()).norm() / scale,
                  1e-5);
  }
}

// Of N readings' noise a fit with p strengths leaves about p/N of the variance.
TEST_CASE("noise is averaged and not followed") {
  const double rms = 1e-4 * 0.5;
  for (const double share : {0.01, 0.05}) {
    const auto grid =
        read(FieldGrid::Kind::axial, {even(0.0, 0.08, 9), even(0.02, 0.3, 29)}, of_pair, share * rms);
    const auto fit = fit_field(grid, vessel, demo_reach);
    const double noise = share * rms * std::sqrt(2.0) / fit.rms;
    MESSAGE("noise ", noise, ", misfit ", fit.misfit, ", error ", rms_error(fit, of_pair));
    CHECK(fit.misfit == doctest::Approx(noise).epsilon(0.15));
    CHECK(rms_error(fit, of_pair) < 0.5 * noise);
  }
}

TEST_CASE("a wrong sign and exchanged columns are named") {
  auto grid = read(FieldGrid::Kind::axial, {even(0.0, 0.08, 6), even(0.02, 0.3, 15)}, of_pair, 1e-7);
  grid.parts[0].row(0) *= -1.0;
  const auto turned = fit_field(grid, vessel, demo_reach);
  CHECK(turned.misfit > 0.1);
  CHECK(turned.divergence_before > 0.1);
  REQUIRE(turned.remedy);
  CHECK(*turned.remedy == "the sign of B_r turned");

  const auto wide = even(-0.075, 0.075, 5);
  auto space = read(FieldGrid::Kind::cartesian, {wide, wide, even(0.045, 0.195, 5)}, of_crossed, 1e-7);
  for (auto& part : space.parts) part.row(0).swap(part.row(2));
  const auto exchanged = fit_field(space, crossed_covered, crossed_reach);
  CHECK(exchanged.misfit > 0.1);
  REQUIRE(exchanged.remedy);
  CHECK(*exchanged.remedy == "B_x and B_z exchanged");
}

TEST_CASE("a grid that does not reach the tags is refused") {
  const auto fault = [](std::vector<std::vector<double>> axes) -> std::string {
    try {
      fit_field(read(FieldGrid::Kind::axial, std::move(axes), of_pair, 0.0), vessel, demo_reach);
    } catch (const InputError& error) {
      return error.what();
    }
    return "";
  };
  CHECK(
      fault({even(0.0, 0.04, 6), even(0.02, 0.3, 15)}).starts_with("the nodes reach from r = 0 mm to 40 mm"));
  CHECK(fault({even(0.0, 0.08, 6), even(0.02, 0.2, 15)})
            .starts_with("the nodes reach from z = 20 mm to 200 mm"));
  CHECK(fault({{0.0, 0.08}, even(0.02, 0.3, 15)}).starts_with("the grid has 2 different r"));
  auto dark = read(FieldGrid::Kind::axial, {even(0.0, 0.08, 6), even(0.02, 0.3, 15)}, of_pair, 0.0);
  dark.parts[0].setZero();
  CHECK_THROWS_AS(fit_field(dark, vessel, demo_reach), InputError);
}
