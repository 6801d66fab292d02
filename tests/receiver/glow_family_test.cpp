#include "models/receiver/glow_family.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <pcg_random.hpp>
#include <random>
#include <span>
#include <vector>

#include "models/error.hpp"
#include "models/receiver/glow_curve.hpp"
#include "models/receiver/led_fit.hpp"
#include "tests/outside.hpp"
#include "tests/receiver/examples.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

namespace {

using example::omega;
// Ratings low enough to be met by the examples.
constexpr GlowLimits limits{2e-4, 5e-3, 30e-3, 4.0};

enum class Order { forwards, backwards };

GlowFamily solved(const ToleranceBox& box, const GlowLimits& wanted, double emf_max,
                  Order order = Order::forwards) {
  GlowFamily family(box, wanted, omega, emf_max);
  while (!family.finished()) {
    const std::size_t jobs = family.jobs();
    for (std::size_t i = 0; i < jobs; ++i) {
      family.solve(order == Order::forwards ? i : jobs - 1 - i);
    }
    family.next_round();
  }
  return family;
}

// EMF at which the unloaded tank would reach `times` 2 V.
double emf_of(const TankDesign& tank, double times) {
  return times * 2.0 / std::abs(linear_response(tank, omega).voltage);
}

BuiltOffset random_offset(const ToleranceBox& box, pcg32& random) {
  std::uniform_real_distribution<double> side(-1.0, 1.0);
  const double inductance = side(random), capacitance = side(random);
  return {box.inductance * inductance, box.capacitance * capacitance, box.led_voltage * side(random)};
}

double steepness(const SteadyState& s) {
  return s.value.emf_peak * s.slope.mean_current / s.value.mean_current;
}

}  // namespace

// Every number against the steady state solved at that place and EMF with twice the time steps. Tolerances
// are those that GlowFamily promises: 1e-4 for the EMF of a current, 0.2 % for the current above 3 % of the
// top and 1e-3 of the top below.
TEST_CASE("built tags anywhere in the box") {
  const Outside outside("steady states with twice the time steps");
  double worst_emf = 0.0, worst_current = 0.0, worst_low = 0.0, worst_rating = 0.0;
  int most_curves = 0;
  pcg32 random(7);
  for (const LedLaw& led : {example::yellow_green(), example::white()}) {
    for (const auto& make : {example::few_turns, example::worked, example::middle, example::many_turns}) {
      for (const double tolerance : {0.02, 0.05}) {
        const ToleranceBox box{make(led), tolerance, tolerance, 0.05};
        const double emf_max = emf_of(box.centre, 7.0);
        const GlowFamily family = solved(box, limits, emf_max);
        REQUIRE(family.usable());
        most_curves = std::max(most_curves, family.curves());
        for (int i = 0; i < 6; ++i) {
          const BuiltOffset offset = random_offset(box, random);
          const FamilyCurve curve = family.at(offset);
          SteadyStateSolver solver(built_design(box.centre, offset), omega, 2 * family.time_steps());
          const double top = solver.solve(emf_max).value.mean_current;
          for (const double part : {0.2, 0.25, 0.3, 0.4, 0.6, 0.95}) {
            const double exact = solver.solve(part * emf_max).value.mean_current;
            const double miss = std::fabs(curve.mean_current_at_log(std::log(part * emf_max)) - exact);
            if (exact > 0.03 * top) {
              worst_current = std::fmax(worst_current, miss / exact);
              outside.below("current of a built tag above 3 % of the top, error [A]", miss, 2e-3 * exact);
            } else {
              worst_low = std::fmax(worst_low, miss / top);
              outside.below("current of a built tag below 3 % of the top, error [A]", miss, 1e-3 * top);
            }
          }
          if (std::isfinite(curve.on_emf())) {
            const SteadyState on = solver.solve(curve.on_emf());
            const double miss =
                std::fabs(std::log(on.value.mean_current / limits.on_mean_current) / steepness(on));
            worst_emf = std::fmax(worst_emf, miss);
            outside.below("threshold EMF of a built tag, relative error", miss, 1e-4);
          } else {
            CHECK(top < 1.001 * limits.on_mean_current);
          }
          const auto over = [&](const OperatingPoint& point) {
            return std::fmax(point.mean_current / limits.mean_current_rating,
                             std::fmax(point.peak_current / limits.peak_current_rating,
                                       point.reverse_peak / limits.reverse_voltage_rating));
          };
          if (std::isfinite(curve.over_rating_emf())) {
            const double miss = std::fabs(over(solver.solve(curve.over_rating_emf()).value) - 1.0);
            worst_rating = std::fmax(worst_rating, miss);
            // 5e-4 of the EMF; a rated quantity rises at most about twice as steeply there.
            CHECK(miss <= 1e-3);
          } else {
            CHECK(over(solver.solve(emf_max).value) < 1.001);
          }
        }
      }
    }
  }
  MESSAGE("worst EMF " << worst_emf << ", current " << worst_current << " (below 3 %: " << worst_low
                       << " of the top), rating " << worst_rating << ", most curves " << most_curves);
}

// The same for antiparallel pairs, both LEDs anywhere in their own tolerances: equal ones, different ones
// (the second lights on the other's half wave only when that is driven hard), weights of the light far from
// one. Each LED's part of the weighted sum against the steady state: 0.2 % of the sum above 3 % of the top.
TEST_CASE("built pairs anywhere in the box") {
  const Outside outside("steady states with twice the time steps");
  double worst_emf = 0.0, worst_current = 0.0, worst_rating = 0.0;
  int most_curves = 0;
  pcg32 random(11);
  std::uniform_real_distribution<double> side(-1.0, 1.0);
  const LedLaw yellow = example::yellow_green(), white = example::white();
  struct Example {
    TankDesign tank;
    LedLaw second;
    double weight;
  };
  for (const Example& example : {Example{example::worked(yellow), yellow, 1.0},
                                 {example::middle(white), white, 1.0},
                                 {example::worked(yellow), white, 1.0},
                                 {example::worked(white), yellow, 10.0},
                                 {example::few_turns(yellow), yellow, 0.2},
                                 {example::many_turns(yellow), white, 4.0}}) {
    CAPTURE(example.tank.inductance);
    CAPTURE(example.weight);
    ToleranceBox box{example.tank, 0.02, 0.02, 0.03, 0.03};
    box.centre.antiparallel = example.second;
    GlowLimits wanted = limits;
    wanted.second = {example.weight, 4e-3, 25e-3, 4.5};
    const double emf_max = emf_of(box.centre, 7.0);
    const GlowFamily family = solved(box, wanted, emf_max);
    MESSAGE("nodes " << family.nodes()[0] << " " << family.nodes()[1] << " " << family.nodes()[2] << " "
                     << family.nodes()[3] << ", curves " << family.curves() << ", error "
                     << family.error().emf << " " << family.error().current << " " << family.error().rating);
    REQUIRE(family.usable());
    most_curves = std::max(most_curves, family.curves());
    const auto sum = [&](const OperatingPoint& point) {
      return point.mean_current + example.weight * point.mean_current_antiparallel;
    };
    for (int i = 0; i < 6; ++i) {
      BuiltOffset offset = random_offset(box, random);
      offset.antiparallel_voltage = box.antiparallel_voltage * side(random);
      const FamilyCurve curve = family.at(offset);
      SteadyStateSolver solver(built_design(box.centre, offset), omega, 2 * family.time_steps());
      const double top = sum(solver.solve(emf_max).value);
      for (const double part : {0.2, 0.25, 0.3, 0.4, 0.6, 0.95}) {
        const OperatingPoint exact = solver.solve(part * emf_max).value;
        const auto got = curve.currents_at_log(std::log(part * emf_max));
        const double scale = std::fmax(sum(exact), 0.03 * top);
        for (const double miss :
             {got.first - exact.mean_current, example.weight * (got.second - exact.mean_current_antiparallel),
              curve.mean_current_at_log(std::log(part * emf_max)) - sum(exact)}) {
          worst_current = std::fmax(worst_current, std::fabs(miss) / scale);
          outside.below("currents of a built pair, error of the weighted sum", std::fabs(miss), 2e-3 * scale);
        }
      }
      if (std::isfinite(curve.on_emf())) {
        const SteadyState on = solver.solve(curve.on_emf());
        const double steep = on.value.emf_peak * sum(on.slope) / sum(on.value);
        const double miss = std::fabs(std::log(sum(on.value) / wanted.on_mean_current) / steep);
        worst_emf = std::fmax(worst_emf, miss);
        outside.below("threshold EMF of a built pair, relative error", miss, 1e-4);
      }
      const auto over = [&](const OperatingPoint& point) {
        const auto& second = *wanted.second;
        return std::max({point.mean_current / wanted.mean_current_rating,
                         point.peak_current / wanted.peak_current_rating,
                         point.reverse_peak / wanted.reverse_voltage_rating,
                         point.mean_current_antiparallel / second.mean_current_rating,
                         point.peak_current_antiparallel / second.peak_current_rating,
                         point.forward_peak / second.reverse_voltage_rating});
      };
      if (std::isfinite(curve.over_rating_emf())) {
        const double miss = std::fabs(over(solver.solve(curve.over_rating_emf()).value) - 1.0);
        worst_rating = std::fmax(worst_rating, miss);
        CHECK(miss <= 1.5e-3);
      } else {
        CHECK(over(solver.solve(emf_max).value) < 1.001);
      }
    }
  }
  MESSAGE("worst EMF " << worst_emf << ", current " << worst_current << ", rating " << worst_rating
                       << ", most curves " << most_curves);
}

TEST_CASE("a second LED stands in both box and limits") {
  const ToleranceBox single{example::worked(example::white()), 0.02, 0.02, 0.03};
  GlowLimits pair = limits;
  pair.second = {1.0, 1e-3, 1e-3, 5.0};
  CHECK_THROWS_AS(GlowFamily(single, pair, omega, 1.0), LogicError);
}

TEST_CASE("the walk along a curve gives the same as single places") {
  const ToleranceBox box{example::worked(example::white()), 0.0, 0.02, 0.03};
  const double emf_max = emf_of(box.centre, 5.0);
  const GlowFamily family = solved(box, limits, emf_max);
  CHECK(family.nodes()[0] == 1);
  const FamilyCurve curve = family.at({0.0, 0.013, -0.02});
  std::vector<double> log_emf, current(400);
  for (int i = 1; i <= 400; ++i) {
    log_emf.push_back(std::log(1.2 * emf_max * i / 400));
  }
  curve.mean_current_at_log(log_emf, current);
  for (int i = 0; i < 400; ++i) {
    CHECK(current[i] == curve.mean_current_at_log(log_emf[i]));
    CHECK((i == 0 || current[i] > current[i - 1]));
  }
}

// GlowCurve: the same steady states, other points and other interpolation (0.2 %, threshold 1e-4).
TEST_CASE("without tolerances one curve is solved, and a probe") {
  const Outside outside("the glow curve of the same tag");
  const TankDesign tank = example::middle(example::yellow_green());
  const double emf_max = emf_of(tank, 6.0);
  const GlowFamily family = solved({tank, 0.0, 0.0, 0.0}, limits, emf_max);
  REQUIRE(family.usable());
  CHECK(family.curves() == 2);
  const FamilyCurve curve = family.at({0.0, 0.0, 0.0});
  const GlowCurve single = solve_glow_curve(tank, omega, emf_max);
  outside.matches("threshold EMF of a family without tolerances [V]", curve.on_emf(),
                  single.threshold_emf(limits.on_mean_current), 1e-4);
  for (double emf = curve.on_emf(); emf < emf_max; emf *= 1.05) {
    outside.matches("current of a family without tolerances [A]", curve.mean_current_at_log(std::log(emf)),
                    single.mean_current(emf), 2e-3);
  }
}

// A capacitor of 20 % detunes a tank of Q 40 by eight half-widths.
TEST_CASE("a box too wide says so") {
  const GlowFamily family = solved({example::many_turns(example::white()), 0.1, 0.2, 0.1}, limits,
                                   emf_of(example::many_turns(example::white()), 6.0));
  CHECK_FALSE(family.usable());
  CHECK(family.error().emf > 1e-4);
  CHECK_THROWS_AS(family.at({0.0, 0.0, 0.0}), LogicError);
}

TEST_CASE("wide capacitors on a tank of low Q can still be interpolated") {
  const ToleranceBox box{example::few_turns(example::yellow_green()), 0.1, 0.2, 0.1};
  const GlowFamily family = solved(box, limits, emf_of(box.centre, 5.0));
  REQUIRE(family.usable());
  pcg32 random(3);
  for (int i = 0; i < 6; ++i) {
    const BuiltOffset offset = random_offset(box, random);
    SteadyStateSolver solver(built_design(box.centre, offset), omega, 2 * family.time_steps());
    const SteadyState on = solver.solve(family.at(offset).on_emf());
    CHECK(std::fabs(std::log(on.value.mean_current / limits.on_mean_current) / steepness(on)) <= 1e-4);
  }
}

// The largest EMF is the centre's threshold, so about half of the built tags light up.
TEST_CASE("a threshold that only a part of the box reaches") {
  const ToleranceBox box{example::middle(example::white()), 0.03, 0.05, 0.05};
  const double emf_max =
      solve_glow_curve(box.centre, omega, emf_of(box.centre, 6.0)).threshold_emf(limits.on_mean_current);
  const GlowFamily family = solved(box, limits, emf_max);
  REQUIRE(family.usable());
  int lit = 0, dark = 0;
  pcg32 random(11);
  for (int i = 0; i < 200; ++i) {
    const BuiltOffset offset = random_offset(box, random);
    SteadyStateSolver solver(built_design(box.centre, offset), omega, family.time_steps());
    const SteadyState top = solver.solve(emf_max);
    // Thresholds within 2e-4 of the largest EMF may fall to either side.
    if (std::fabs(std::log(top.value.mean_current / limits.on_mean_current)) < 2e-4 * steepness(top)) {
      continue;
    }
    const bool reached = top.value.mean_current > limits.on_mean_current;
    CHECK(std::isfinite(family.at(offset).on_emf()) == reached);
    (reached ? lit : dark) += 1;
  }
  CHECK(lit > 30);
  CHECK(dark > 30);
}

TEST_CASE("a field far too weak gives a dark family") {
  const ToleranceBox box{example::worked(example::white()), 0.02, 0.02, 0.03};
  const GlowFamily family = solved(box, limits, 1e-3);
  REQUIRE(family.usable());
  const FamilyCurve curve = family.at({0.01, 0.01, -0.02});
  CHECK(curve.on_emf() == std::numeric_limits<double>::infinity());
  CHECK(curve.over_rating_emf() == std::numeric_limits<double>::infinity());
  CHECK(curve.mean_current_at_log(std::log(1e-3)) < 1e-12);
  CHECK(curve.mean_current_at_log(std::log(1e-3)) >= 0.0);
}

// The unlit tank is linear: a rating of 0.5 V in reverse is met at 0.5 V over its gain.
TEST_CASE("a reverse rating below the LED's own voltage") {
  const Outside outside("linear tank below the knee");
  const ToleranceBox box{example::worked(example::white()), 0.02, 0.02, 0.03};
  GlowLimits weak = limits;
  weak.reverse_voltage_rating = 0.5;
  const GlowFamily family = solved(box, weak, emf_of(box.centre, 5.0));
  REQUIRE(family.usable());
  const BuiltOffset offset{0.015, -0.01, 0.02};
  const double gain = std::abs(linear_response(built_design(box.centre, offset), omega).voltage);
  // Leakage of 50 nA at some kilohms of impedance.
  outside.matches("EMF at a reverse rating [V]", family.at(offset).over_rating_emf(), 0.5 / gain, 1e-4);
}

TEST_CASE("the order of jobs does not matter, not in the last bit") {
  const ToleranceBox box{example::worked(example::yellow_green()), 0.05, 0.05, 0.05};
  const double emf_max = emf_of(box.centre, 5.0);
  const GlowFamily one = solved(box, limits, emf_max), other = solved(box, limits, emf_max, Order::backwards);
  CHECK(one.curves() == other.curves());
  CHECK(one.error().emf == other.error().emf);
  pcg32 random(5);
  for (int i = 0; i < 20; ++i) {
    const BuiltOffset offset = random_offset(box, random);
    CHECK(one.at(offset).on_emf() == other.at(offset).on_emf());
    CHECK(one.at(offset).mean_current_at_log(std::log(0.7 * emf_max)) ==
          other.at(offset).mean_current_at_log(std::log(0.7 * emf_max)));
  }
}

// Typical LEDs on tanks of any kind: either the family is as good as it says or it says that it is not.
TEST_CASE("families of random tanks") {
  pcg32 random(20261125);
  const auto log_uniform = [&](double low, double high) {
    return low * std::pow(high / low, std::uniform_real_distribution<double>(0.0, 1.0)(random));
  };
  int usable = 0, all = 0;
  double worst = 0.0;
  for (const auto& [name, points] : example::typical_emitters()) {
    ++all;
    const LedLaw led = fit_led(points, example::reverse, example::temperature).law;
    const double reactance = log_uniform(10.0, 1000.0), detuning = log_uniform(0.7, 1.4);
    const ToleranceBox box{{reactance / omega, reactance / log_uniform(4.0, 50.0),
                            detuning / (omega * reactance), 1e-3, 50e-12, led},
                           0.02,
                           0.03,
                           0.05};
    const double emf_max = emf_of(box.centre, log_uniform(2.0, 8.0));
    const GlowFamily family = solved(box, limits, emf_max);
    if (!family.usable()) {
      continue;
    }
    ++usable;
    for (int k = 0; k < 2; ++k) {
      const BuiltOffset offset = random_offset(box, random);
      const FamilyCurve curve = family.at(offset);
      SteadyStateSolver solver(built_design(box.centre, offset), omega, 2 * family.time_steps());
      const double top = solver.solve(emf_max).value.mean_current;
      for (const double part : {0.3, 0.5, 0.8}) {
        const double exact = solver.solve(part * emf_max).value.mean_current;
        const double miss = std::fabs(curve.mean_current_at_log(std::log(part * emf_max)) - exact) /
                            std::fmax(exact, 0.03 * top);
        worst = std::fmax(worst, miss);
        CHECK(miss <= 2e-3);
      }
    }
  }
  MESSAGE(usable << " of " << all << " random tanks interpolated, worst current " << worst);
  CHECK(usable >= all - 1);
}

TEST_CASE("wrong arguments are refused") {
  const TankDesign tank = example::worked(example::white());
  CHECK_THROWS_AS(GlowFamily({tank, 0.02, 0.02, 0.03}, limits, omega, 0.0), LogicError);
  CHECK_THROWS_AS(GlowFamily({tank, 1.0, 0.02, 0.03}, limits, omega, 1.0), LogicError);
  CHECK_THROWS_AS(GlowFamily({tank, 0.02, 0.02, -0.03}, limits, omega, 1.0), LogicError);
  CHECK_THROWS_AS(GlowFamily({tank, 0.02, 0.02, 0.03}, {0.0, 1.0, 1.0, 1.0}, omega, 1.0), LogicError);
  TankDesign bad = tank;
  bad.resistance = 0.0;
  CHECK_THROWS_AS(GlowFamily({bad, 0.02, 0.02, 0.03}, limits, omega, 1.0), InputError);
}
