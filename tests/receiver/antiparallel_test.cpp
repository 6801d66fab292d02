#include <doctest/doctest.h>

#include <array>
#include <cmath>

#include "models/error.hpp"
#include "models/receiver/glow_curve.hpp"
#include "models/receiver/steady_state.hpp"
#include "tests/outside.hpp"
#include "tests/receiver/examples.hpp"
#include "tests/receiver/time_integration.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

namespace {

using example::omega;

TankDesign with_second(TankDesign tank, const LedLaw& second) {
  tank.antiparallel = second;
  return tank;
}

double gain(const TankDesign& tank) {
  return std::abs(linear_response(tank, omega).voltage);
}

}  // namespace

// Reference library: CVODE, as in steady_state_test.cpp; 0.1 % as there.
TEST_CASE("antiparallel LEDs: time integration gives the same steady state to 0.1 %") {
  const Outside outside("time integration by SUNDIALS CVODE");
  double worst = 0.0;
  const LedLaw yellow = example::yellow_green(), white = example::white();
  for (const TankDesign& tank :
       {with_second(example::few_turns(yellow), yellow), with_second(example::worked(white), white),
        with_second(example::worked(yellow), white), with_second(example::middle(white), yellow),
        with_second(example::many_turns(yellow), white)}) {
    SteadyStateSolver solver(tank, omega, 256);
    const double knee = tank.led.forward_voltage(1e-4) / gain(tank);
    for (const double ratio : {0.95, 1.0, 1.3, 3.0, 6.0}) {
      CAPTURE(tank.inductance);
      CAPTURE(ratio);
      const double difference =
          largest_difference(solver.solve(ratio * knee).value, integrate_in_time(tank, omega, ratio * knee));
      outside.below("steady state of antiparallel LEDs, worst relative difference", difference, 1e-3);
      worst = std::fmax(worst, difference);
    }
  }
  MESSAGE("worst relative difference to time integration " << worst);
}

// Two equal LEDs: both half waves alike (odd circuit, even drive), and in a stiff tank each carries what it
// would alone.
TEST_CASE("equal LEDs share the light and clamp each other") {
  const Outside outside("symmetry of two equal LEDs");
  const LedLaw led = example::yellow_green();
  const TankDesign single = example::middle(led), pair = with_second(single, led);
  SteadyStateSolver alone(single, omega, 256), both(pair, omega, 256);
  const double emf = 6.0 * led.forward_voltage(1e-4) / gain(single);
  const OperatingPoint one = alone.solve(emf).value, two = both.solve(emf).value;
  outside.matches("mean current of the halves of an equal pair [A]", two.mean_current,
                  two.mean_current_antiparallel, 1e-9);
  CHECK(two.forward_peak == relative(two.reverse_peak, 1e-9));
  CHECK(two.peak_current == relative(two.peak_current_antiparallel, 1e-9));
  CHECK(two.reverse_peak == relative(led.forward_voltage(two.peak_current_antiparallel), 1e-9));
  CHECK(one.reverse_peak > 1.2 * two.reverse_peak);

  const TankDesign stiff{1e-10, 1e-3 * omega * 1e-10, 1.0 / (omega * omega * 1e-10), 0.0, 0.0, led};
  SteadyStateSolver stiff_alone(stiff, omega, 128), stiff_both(with_second(stiff, led), omega, 128);
  const double threshold = 1.75 / gain(stiff);
  CHECK(stiff_both.solve(threshold).value.mean_current_antiparallel ==
        relative(stiff_alone.solve(threshold).value.mean_current, 2e-3));
}

// Exchanging the LEDs is the same circuit seen with the opposite sign.
TEST_CASE("exchanged LEDs exchange their results") {
  const Outside outside("symmetry under exchange of the LEDs");
  const LedLaw yellow = example::yellow_green(), white = example::white();
  SteadyStateSolver a(with_second(example::worked(yellow), white), omega, 256),
      b(with_second(example::worked(white), yellow), omega, 256);
  const OperatingPoint p = a.solve(1.2).value, q = b.solve(1.2).value;
  outside.matches("mean currents of exchanged LEDs [A]", p.mean_current, q.mean_current_antiparallel, 1e-8);
  outside.matches("mean currents of exchanged LEDs [A]", p.mean_current_antiparallel, q.mean_current, 1e-8);
  CHECK(p.forward_peak == relative(q.reverse_peak, 1e-8));
  outside.matches("power of exchanged LEDs [W]", p.real_power, q.real_power, 1e-8);
}

// Central differences of the solver's own values, as in steady_state_test.cpp.
TEST_CASE("antiparallel LEDs: slopes are derivatives by the EMF") {
  const Outside outside("central differences");
  SteadyStateSolver solver(with_second(example::worked(example::white()), example::yellow_green()), omega,
                           512);
  for (const double e : {0.3, 0.6, 1.4}) {
    const double h = 1e-4 * e;
    const OperatingPoint below = solver.solve(e - h).value, above = solver.solve(e + h).value;
    const OperatingPoint slope = solver.solve(e).slope;
    for (double OperatingPoint::*member :
         {&OperatingPoint::mean_current_antiparallel, &OperatingPoint::peak_current_antiparallel,
          &OperatingPoint::forward_peak, &OperatingPoint::reverse_peak, &OperatingPoint::real_power}) {
      outside.matches("slopes of a pair's steady state", (above.*member - below.*member) / (2.0 * h),
                      slope.*member, 1e-3);
    }
  }
}

// Against steady states with twice the nodes, 0.2 % from 1e-7 A on as for one LED; thresholds by bisection on
// them, 1e-4.
TEST_CASE("antiparallel LEDs: curve and thresholds") {
  const Outside outside("steady states with twice the nodes");
  const LedLaw yellow = example::yellow_green(), white = example::white();
  for (const TankDesign& tank :
       {with_second(example::worked(yellow), yellow), with_second(example::worked(white), yellow),
        with_second(example::many_turns(yellow), white)}) {
    const GlowCurve curve = solve_glow_curve(tank, omega, 25.0 / gain(tank));
    SteadyStateSolver solver(tank, omega, 2 * curve.nodes());
    double last = 0.0, last_second = 0.0;
    for (std::size_t i = 1; i < curve.points().size(); ++i) {
      const double emf = 0.5 * (curve.points()[i - 1].value.emf_peak + curve.points()[i].value.emf_peak);
      const OperatingPoint exact = solver.solve(emf).value, got = curve.at(emf);
      for (double OperatingPoint::*member :
           {&OperatingPoint::mean_current, &OperatingPoint::mean_current_antiparallel,
            &OperatingPoint::forward_peak, &OperatingPoint::reverse_peak, &OperatingPoint::real_power}) {
        if (std::fmax(exact.mean_current, exact.mean_current_antiparallel) >= 1e-7 && exact.*member >= 1e-7) {
          outside.matches("glow curve of a pair between its points", got.*member, exact.*member, 2e-3);
        }
      }
      CHECK(got.mean_current >= last);
      CHECK(got.mean_current_antiparallel >= last_second);
      last = got.mean_current;
      last_second = got.mean_current_antiparallel;
    }
    for (const auto& [wanted, first, second] :
         {std::array{2e-4, 1.0, 0.0}, {2e-4, 0.0, 1.0}, {1e-3, 3.0, 2.0}}) {
      double low = 0.0, high = curve.emf_max();
      for (int i = 0; i < 30; ++i) {
        const double middle = 0.5 * (low + high);
        const OperatingPoint p = solver.solve(middle).value;
        (first * p.mean_current + second * p.mean_current_antiparallel < wanted ? low : high) = middle;
      }
      const double threshold = curve.threshold_emf(wanted, {first, second});
      if (high == curve.emf_max()) {
        CHECK(std::isinf(threshold));
      } else {
        outside.matches("threshold EMF of a pair [V]", threshold, high, 2e-4);
      }
    }
    CHECK_THROWS_AS(curve.threshold_emf(1e-4, {0.0, 0.0}), LogicError);
  }
}
