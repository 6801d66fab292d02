#include "models/driver/tag_load.hpp"

#include <doctest/doctest.h>

#include <Eigen/LU>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/driver/time_integration.hpp"
#include "tests/driver/worked.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::driver;
using driftglow::constant::pi;
namespace receiver = driftglow::receiver;

namespace {

// model.md section 8's tag, with an invented LED.
receiver::TankDesign tag_design() {
  return {39.22e-6, 3.13, 47e-9, 0.001, 40e-12, receiver::LedLaw({1.93, 5e-20, 9.0, 293.15, {25.0, 50e-9}})};
}

VoltageFedSeries bridge_driver() {
  return {Bridge::half, 1.2, 0.05, 20e-9, 0.001, 118e3};
}

TagResponse none() {
  return [](double, double) { return std::complex<double>(); };
}

}  // namespace

// Closed form: the meshes of the drive circuit and of several different linear tags, each coupled to the
// drive only, as one set of complex equations (Kirchhoff).
TEST_CASE("linear tags against the mesh equations") {
  const Outside outside("mesh equations of drive and tags (Kirchhoff)");
  const auto coils = worked_coils();
  const auto driver = bridge_driver();
  const std::vector<double> mutual{1e-6, 0.4e-6, 0.7e-6, 0.05e-6};
  std::vector<TagGroup> groups;
  std::vector<receiver::TankDesign> tanks;
  for (std::size_t i = 0; i < mutual.size(); ++i) {
    auto tank = tag_design();
    tank.capacitance *= 0.9 + 0.06 * static_cast<double>(i);
    tanks.push_back(tank);
    groups.push_back({1.0, {mutual[i]}, unlit_response(tank)});
  }
  const auto point = operating_point(driver, coils, room, {reflected_by(groups)});
  const double omega = 2.0 * pi * 118e3;
  using Complex = std::complex<double>;
  const int n = static_cast<int>(mutual.size());
  Eigen::MatrixXcd meshes = Eigen::MatrixXcd::Zero(n + 1, n + 1);
  meshes(0, 0) = Complex(point.resistance.total + 0.05 + 0.001 / (omega * 20e-9),
                         omega * point.L - 1.0 / (omega * 20e-9));
  for (int i = 0; i < n; ++i) {
    const auto& tank = tanks[i];
    const Complex branch(tank.loss_conductance(omega), omega * tank.total_capacitance());
    meshes(i + 1, i + 1) = Complex(tank.resistance, omega * tank.inductance) + 1.0 / branch;
    meshes(0, i + 1) = meshes(i + 1, 0) = Complex(0.0, omega * mutual[i]);
  }
  Eigen::VectorXcd source = Eigen::VectorXcd::Zero(n + 1);
  source[0] = 2.0 * 1.2 / pi;
  const Eigen::VectorXcd current = meshes.partialPivLu().solve(source);
  outside.matches("coil current under linear tags [A]", point.current_peak, std::abs(current[0]), 1e-8);
  // Power: what the source gives less the drive circuit's own loss.
  const double given = 0.5 * std::real(source[0] * std::conj(current[0]));
  outside.matches("power taken by linear tags [W]", point.tag_power,
                  given - 0.5 * std::norm(current[0]) * meshes(0, 0).real(), 1e-7);
  CHECK(point.current_peak < 0.8 * operating_point(driver, coils, room).current_peak);
}

// Second route: drive and one closely coupled tag with its LED in time. The describing function leaves out
// the harmonics of the tag's current in the drive coil and those of the square wave in the tag's EMF (a third
// of 1/8Q): 0.1 %. Without the feedback the current would be off by the factor shown.
TEST_CASE("a lit tag against integration in time") {
  const Outside outside("drive, tag and LED in time (SUNDIALS CVODE)");
  const auto coils = worked_coils();
  const auto tank = tag_design();
  auto driver = bridge_driver();
  driver.supply_voltage = 3.0;
  driver.switch_resistance = 1.0;
  driver.frequency = operating_point(driver, coils, room).frequency;
  const double omega = 2.0 * pi * *driver.frequency;
  const auto curve = receiver::solve_glow_curve(tank, omega, 3.0);
  for (const double M : {0.5e-6, 1e-6, 2e-6}) {
    CAPTURE(M);
    const auto feedback = tag_feedback(driver, coils, room, {{1.0, {M}, unlit_response(tank)}},
                                       {{1.0, {M}, lit_response(curve)}});
    const auto& lit = feedback.lit;
    const double R = lit.resistance.total + driver.switch_resistance + 0.001 / (omega * 20e-9);
    const auto run = integrate_with_tag(1.5, *driver.frequency, lit.L, R, 20e-9, M, tank);
    MESSAGE("coil current empty ", feedback.empty.current_peak, ", unlit ", feedback.unlit.current_peak,
            ", lit ", lit.current_peak, "; in time ", run.fundamental, "; LED ", run.tag_current);
    outside.matches("coil current of a bridge drive with a lit tag [A]", lit.current_peak, run.fundamental,
                    1e-3);
    outside.matches("power taken by a lit tag [W]", lit.tag_power, run.tag_power, 1e-2);
    outside.near("mean LED current of a tag that loads the drive [A]",
                 curve.mean_current(omega * M * lit.current_peak), run.tag_current,
                 0.02 * (1e-4 + std::fabs(run.tag_current)));
    // The LED holds the tank down: a lit tag takes less than it would without.
    CHECK(lit.current_peak >= feedback.unlit.current_peak * (1.0 - 1e-6));
  }
}

// The push-pull's tank is stiff: tags raise the supply current by their power and hardly move the field
// (model.md section 2). 24 tags, M of 24 ordinary places; energy by addition.
TEST_CASE("tags at the push-pull raise the supply current, hardly the field") {
  const Outside outside("conservation of energy");
  const auto coils = worked_coils();
  const auto driver = worked_driver();
  const auto tank = tag_design();
  const double omega = 2.0 * pi * operating_point(driver, coils, room).frequency;
  std::vector<double> mutual;
  for (int i = 0; i < 24; ++i) mutual.push_back(1e-6 * (i + 0.5) / 24.0);
  const auto curve = receiver::solve_glow_curve(tank, omega, 2.0);
  const auto feedback = tag_feedback(driver, coils, room, {{24.0, mutual, unlit_response(tank)}},
                                     {{24.0, mutual, lit_response(curve)}});
  MESSAGE("supply empty ", feedback.empty.tank->supply_current, ", unlit ",
          feedback.unlit.tank->supply_current, ", lit ", feedback.lit.tank->supply_current,
          " A; coil current lit/empty ", feedback.lit.current_peak / feedback.empty.current_peak);
  CHECK(feedback.lit.current_peak == relative(feedback.empty.current_peak, 5e-3));
  CHECK(feedback.unlit.tank->supply_current > 1.5 * feedback.empty.tank->supply_current);
  CHECK(feedback.lit.tank->supply_current < feedback.unlit.tank->supply_current);
  // Power taken, tag by tag, from the curve at the loaded current.
  double power = 0.0;
  for (const double M : mutual)
    power += curve.at(2.0 * pi * feedback.lit.frequency * M * feedback.lit.current_peak).real_power;
  outside.matches("power taken by 24 tags [W]", feedback.lit.tag_power, power, 1e-6);
  const auto& tank_point = *feedback.lit.tank;
  outside.matches(
      "supply power of a push-pull drive with tags [W]", tank_point.supply_power,
      feedback.lit.copper_loss + power + tank_point.capacitor_loss + 0.7 * tank_point.supply_current, 1e-6);
}

// A following series driver keeps the whole circuit's reactance at zero.
TEST_CASE("a series driver follows the tags' reactance") {
  const auto coils = worked_coils();
  auto driver = bridge_driver();
  driver.frequency.reset();
  auto tank = tag_design();
  tank.capacitance *= 0.8;
  const auto point =
      operating_point(driver, coils, room, {reflected_by({{24.0, {0.5e-6}, unlit_response(tank)}})});
  const double omega = 2.0 * pi * point.frequency;
  CHECK(std::fabs(omega * point.L + point.reflected.imag() - 1.0 / (omega * 20e-9)) < 1e-5 * omega * point.L);
  CHECK(point.reflected.imag() != 0.0);
  CHECK(point.bridge->power_factor == relative(1.0, 1e-6));
}

// Two coupled circuits tuned alike split when k > 1/Q of the more damped one (textbook, for the frequencies
// of zero reactance): here the tag's Q is 9.2, k = M/sqrt(L L'), 24 tags at once like one with sqrt(24) M.
TEST_CASE("beyond critical coupling there are several frequencies") {
  const auto coils = worked_coils();
  auto tank = tag_design();
  const auto bare = operating_point(worked_driver(), coils, room);
  tank.capacitance = bare.L * 20e-9 / tank.inductance - tank.junction_capacitance;
  const double omega = 2.0 * pi * bare.frequency;
  const double critical = std::sqrt(bare.L * tank.inductance / 24.0) / receiver::quality_factor(tank, omega);
  const auto split = [&](double M) {
    return splits_resonance(bare, 20e-9, reflected_by({{24.0, {M}, unlit_response(tank)}}));
  };
  MESSAGE("critical M of 24 tags ", critical);
  CHECK_FALSE(split(0.9 * critical));
  CHECK(split(1.1 * critical));
  const auto hopeless = reflected_by({{24.0, {20.0 * critical}, unlit_response(tank)}});
  CHECK_THROWS_AS(operating_point(worked_driver(), coils, room, {hopeless}), driftglow::InputError);
}

TEST_CASE("tag load: faults and the empty load") {
  CHECK_THROWS_AS(reflected_by({{1.0, {}, none()}}), driftglow::LogicError);
  CHECK_THROWS_AS(reflected_by({{-1.0, {1e-6}, none()}}), driftglow::LogicError);
  const auto coils = worked_coils();
  const auto point = operating_point(worked_driver(), coils, room, {reflected_by({{24.0, {1e-6}, none()}})});
  CHECK(point.current_peak == relative(operating_point(worked_driver(), coils, room).current_peak, 1e-9));
  CHECK(point.tag_power == 0.0);
}
