#include "models/receiver/winding_aid.hpp"

#include <doctest/doctest.h>

#include <chrono>
#include <cmath>
#include <pcg_random.hpp>
#include <random>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/receiver/examples.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

namespace {

using example::omega;

// IEC 60063, E12 and E24.
const std::vector<double> e12{1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2};
const std::vector<double> e24{1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                              3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1};

}  // namespace

// Model.md section 8: 39.22 uH at 117.19 kHz wants 47 nF.
TEST_CASE("the capacitor that tunes the worked tag") {
  const Outside outside("model.md section 8, an independent implementation");
  const double at = 2.0 * std::numbers::pi * 117.19e3;
  const double wanted = tuning_capacitance(39.22e-6, at, 0.0);
  outside.matches("capacitor that tunes the worked tag [F]", wanted, 47e-9, 2e-3);
  CHECK(tuning_capacitance(39.22e-6, at, 40e-12) == relative(wanted - 40e-12, 1e-12));
  CHECK(nearest_single(wanted, e12).first == relative(47e-9));
  CHECK(nearest_single(wanted, e12).second == 0.0);
  CHECK_THROWS_AS(tuning_capacitance(39.22e-6, at, 50e-9), InputError);
}

TEST_CASE("single and pair out of a series") {
  // Over the decade's border, and at it.
  CHECK(nearest_single(9.4e-9, e12).first == relative(1e-8));
  CHECK(nearest_single(0.96, e12).first == 1.0);
  CHECK(nearest_single(8.3, e12).first == 8.2);
  // By hand: 20 nF is 18 + 2.2 (1 %), 10 + 10 exactly.
  const auto twenty = nearest_pair(20e-9, e12);
  CHECK(twenty.first == relative(10e-9));
  CHECK(twenty.second == relative(10e-9));
  CHECK(std::fabs(twenty.error) < 1e-12);
  // 52 nF from E12: 47 + 4.7 = 51.7 (0.6 %), 47 + 5.6 = 52.6, 39 + 12 = 51, 33 + 18 = 51, 27 + 27 = 54.
  const auto pair = nearest_pair(52e-9, e12);
  CHECK(pair.first == relative(47e-9));
  CHECK(pair.second == relative(4.7e-9));
  CHECK(pair.error == relative(51.7 / 52.0 - 1.0, 1e-9));
  // Against all pairs, by brute force over five decades.
  pcg64 random(7);
  for (int i = 0; i < 40; ++i) {
    const double wanted = std::pow(10.0, std::uniform_real_distribution<double>(-10.0, -6.0)(random));
    double best = 1.0;
    for (int a = -12; a <= -5; ++a) {
      for (int b = -14; b <= -5; ++b) {
        for (const double x : e24) {
          for (const double y : e24)
            best = std::fmin(best, std::fabs((x * std::pow(10.0, a) + y * std::pow(10.0, b)) / wanted - 1.0));
        }
      }
    }
    const auto found = nearest_pair(wanted, e24);
    CHECK(std::fabs(found.error) <= best + 1e-3);
    CHECK(std::fabs(found.error) <= std::fabs(nearest_single(wanted, e24).error));
    CHECK(found.first >= found.second);
  }
  CHECK_THROWS_AS(nearest_single(1.0, {}), LogicError);
  CHECK_THROWS_AS(nearest_single(0.0, e12), LogicError);
}

TEST_CASE("turns that fit") {
  const coil::Wire wire{1e-3, 1.06e-3};
  CHECK(turns_that_fit(1.05e-3, 1, wire, 1.06e-3) == 0);
  CHECK(turns_that_fit(1.06e-3, 1, wire, 1.06e-3) == 1);
  CHECK(turns_that_fit(10.6e-3, 1, wire, 1.06e-3) == 10);
  CHECK(turns_that_fit(10.6e-3, 3, wire, 1.06e-3) == 30);
  CHECK(turns_that_fit(1.06e-3 + 9 * 1.5e-3, 1, wire, 1.5e-3) == 10);
  CHECK(turns_that_fit(14.5e-3, 1, wire, 1.5e-3) == 9);
  // What fits is what wind() lays.
  const coil::Winding w{0.1, 10.0, 1, wire, 1.5e-3};
  CHECK(coil::wind(w, 0.0, coil::Sense::right_handed).axial_length == relative(1.06e-3 + 9 * 1.5e-3, 1e-12));
}

// Copper by hand: length pi (30.5 mm mean) 23, area of 0.125 mm, 1.7241e-8 ohm m, 8890 kg/m3 (IEC 60028); L
// and R as model.md section 8 states them.
TEST_CASE("figures of the worked tag's winding") {
  const Outside outside("IEC 60028 copper and geometry, by hand");
  const auto f = winding_figures({0.030, 23.0, 3, {0.125e-3, 0.144e-3}, 0.144e-3}, 117.19e3, 293.15);
  // Layers at 30.125, 30.413 and 30.701 mm of diameter, 8 + 8 + 7 turns.
  const double length = std::numbers::pi * (8 * 30.125e-3 + 8 * 30.413e-3 + 7 * 30.701e-3);
  outside.matches("wire length of the worked tag [m]", f.wire_length, length, 1e-12);
  const double area = 0.25 * std::numbers::pi * 0.125e-3 * 0.125e-3;
  outside.matches("copper mass of the worked tag [kg]", f.copper_mass, 8890.0 * area * length, 1e-12);
  outside.matches("DC resistance of the worked tag [ohm]", f.dc_resistance, 1.7241e-8 * length / area, 1e-12);
  Outside("model.md section 8, an independent implementation")
      .near("AC resistance of the worked tag [ohm]", f.resistance, 3.13, 0.005);
  Outside("model.md section 8, an independent implementation")
      .matches("inductance of the worked tag [H]", f.inductance, 39.22e-6, 1e-3);
  CHECK(f.axial_length == relative(8 * 0.144e-3, 1e-12));
}

// Against sampling with the solver itself, a fixed seed: 400 tags, standard error of a share below 2.5 %; 4
// of them. And against one tolerance at a time, where the share follows from the monotonic threshold.
TEST_CASE("share of tags within a wanted threshold") {
  const Outside outside("400 tags sampled with the solver, 4 standard errors");
  const TankDesign tank = example::worked(example::yellow_green());
  const BuildTolerances tolerances{0.03, 0.05, 0.05};
  const auto start = std::chrono::steady_clock::now();
  const double nominal = threshold_spread(tank, omega, 2e-4, {0.0, 0.0, 0.0}, 1.0, 2.0).nominal;
  const auto spread = threshold_spread(tank, omega, 2e-4, tolerances, 0.98 * nominal, 1.06 * nominal);
  MESSAGE("threshold ", spread.nominal, " V (", spread.lowest, " to ", spread.highest, "), share ",
          spread.share_within, ", ",
          std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), " s");
  CHECK(spread.lowest < spread.nominal);
  CHECK(spread.highest > spread.nominal);

  pcg64 random(20260101);
  std::uniform_real_distribution<double> even(-1.0, 1.0);
  const int tags = 400;
  int within = 0;
  double lowest = HUGE_VAL, highest = 0.0;
  for (int i = 0; i < tags; ++i) {
    TankDesign built = tank;
    built.inductance *= 1.0 + tolerances.inductance * even(random);
    built.capacitance *= 1.0 + tolerances.capacitance * even(random);
    built.led = tank.led.shifted(tolerances.led_voltage * even(random));
    const double threshold = solve_glow_curve(built, omega, 4.0 * nominal).threshold_emf(2e-4);
    within += threshold >= 0.98 * nominal && threshold <= 1.06 * nominal ? 1 : 0;
    lowest = std::fmin(lowest, threshold);
    highest = std::fmax(highest, threshold);
  }
  const double share = within / double(tags);
  CHECK(share > 0.2);
  outside.near("share of tags within a wanted threshold", spread.share_within, share,
               4.0 * std::sqrt(share * (1.0 - share) / tags));
  CHECK(spread.lowest <= lowest * 1.001);
  CHECK(spread.highest >= highest * 0.999);
  CHECK(spread.highest < 1.2 * highest);
}

// One tolerance: the threshold rises with the LED's voltage, so the share below that of half the shift is
// 3/4.
TEST_CASE("one tolerance alone") {
  const Outside outside("monotonic threshold, three quarters");
  const TankDesign tank = example::middle(example::white());
  TankDesign half = tank;
  half.led = tank.led.shifted(0.05);
  const double limit = threshold_spread(half, omega, 2e-4, {0.0, 0.0, 0.0}, 1.0, 1.0).nominal;
  const auto spread = threshold_spread(tank, omega, 2e-4, {0.0, 0.0, 0.1}, 1e-3, limit);
  outside.near("share below half the shift", spread.share_within, 0.75, 0.02);
  CHECK_THROWS_AS(threshold_spread(tank, omega, 2e-4, {1.0, 0.0, 0.0}, 1.0, 1.0), InputError);
  CHECK_THROWS_AS(threshold_spread(tank, omega, 0.0, {0.0, 0.0, 0.0}, 1.0, 1.0), LogicError);
}

// A sharp tank with wide tolerances: the interpolation follows the resonance through the box. Against the
// solver at places of the box.
TEST_CASE("a sharp tank over a wide box") {
  const Outside outside("the solver at places of the box");
  const TankDesign tank = example::many_turns(example::white());
  const auto solved = [&](double l, double c) {
    TankDesign built = tank;
    built.inductance *= l;
    built.capacitance *= c;
    return threshold_spread(built, omega, 2e-4, {0.0, 0.0, 0.0}, 1.0, 1.0).nominal;
  };
  const auto spread = threshold_spread(tank, omega, 2e-4, {0.05, 0.10, 0.0}, 1.0, 1.0);
  double lowest = HUGE_VAL, highest = 0.0;
  for (int i = -4; i <= 4; ++i) {
    for (int k = -4; k <= 4; ++k) {
      const double threshold = solved(1.0 + 0.0125 * i, 1.0 + 0.025 * k);
      lowest = std::fmin(lowest, threshold);
      highest = std::fmax(highest, threshold);
    }
  }
  outside.matches("lowest threshold over a wide box [V]", spread.lowest, lowest, 0.02);
  outside.matches("highest threshold over a wide box [V]", spread.highest, highest, 0.02);
}
