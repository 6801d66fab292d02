#include "models/receiver/led_law.hpp"

#include <doctest/doctest.h>

#include <boost/math/special_functions/lambert_w.hpp>
#include <cmath>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/receiver/examples.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

// Reference library: the law solved with Boost.Math's Lambert W, i = (a/R) W(r e^(x + r)) - I_s, a = n_id
// V_T, x = v/a, r = R I_s/a. The argument x up to 60 carries its own rounding, 60 * 1.1e-16, into the
// exponential twice.
TEST_CASE("current agrees with Lambert W") {
  const Outside outside("Boost.Math's Lambert W");
  for (const double resistance : {1e-3, 0.5, 9.0, 200.0}) {
    const LedLaw law({1.93, 5e-20, resistance, 293.15, example::reverse});
    const double a = law.slope_voltage(), r = resistance * 5e-20 / a;
    double worst = 0.0;
    for (double v = 0.3; v < 3.0; v += 1.7e-3) {
      const double expected = a / resistance * boost::math::lambert_w0(r * std::exp(v / a + r)) - 5e-20;
      worst = std::fmax(worst, std::fabs(law.respond(v).current / expected - 1.0));
    }
    outside.below("LED current by Lambert W, worst relative error", worst, 2e-14);
  }
}

// Round trip through the forward law, which is explicit: voltage met to 4 units in the last place.
TEST_CASE("forward voltage and current are inverse over sixteen decades, without series resistance too") {
  const Outside outside("round trip through the explicit law");
  for (const double resistance : {0.0, 9.0}) {
    const LedLaw law({2.35, 1e-23, resistance, 293.15, example::reverse});
    for (double i = 1e-17; i < 1.0; i *= 1.31) {
      const double v = law.forward_voltage(i);
      outside.matches("LED voltage after a round trip [V]", law.forward_voltage(law.respond(v).current), v,
                      1e-15);
    }
  }
}

// Thermal voltage kT/q at 300 K is 25.852 mV (every textbook); a decade of current takes ln 10 of it times
// n_id.
TEST_CASE("slope voltage") {
  const Outside outside("thermal voltage kT/q at 300 K (textbooks)");
  outside.matches("slope voltage at 300 K [V]",
                  LedLaw({1.0, 1e-20, 0.0, 300.0, example::reverse}).slope_voltage(), 25.852e-3, 2e-5);
}

// Central differences: error step^2/6 f''' / f', with f'''/f' ~ 1/a^2 = 400, below 1e-6 with a step of 1e-5
// V... and rounding of x (1e-14) over the step in units of a (2e-4).
TEST_CASE("conductance and curvature are derivatives, and the reverse branch is C1 and increasing") {
  const Outside outside("central differences");
  const LedLaw law = example::yellow_green();
  const double h = 1e-5;
  for (const double v : {-26.5, -25.2, -24.0, -3.0, -0.1, 1.2, 1.6, 1.8, 2.5}) {
    const auto below = law.respond(v - h), at = law.respond(v), above = law.respond(v + h);
    outside.matches("conductance of the LED law [S]", (above.current - below.current) / (2.0 * h),
                    at.conductance, 1e-6);
    // Rounding of the forward branch, I_s/(n_id V_T) = 1e-18 S, over the step adds 1e-13 A/V2.
    const double curvature = (above.conductance - below.conductance) / (2.0 * h);
    CHECK(std::fabs(curvature - at.curvature) <= 1e-6 * std::fabs(at.curvature) + 1e-12);
  }
  // The slopes there are at most 0.01 S and 0.02 S/V.
  for (const double joint : {0.0, -25.0, -25.5}) {
    const auto left = law.respond(joint - 1e-9), right = law.respond(joint + 1e-9);
    CHECK(std::fabs(left.current - right.current) <= 2.1e-9 * 0.01);
    CHECK(std::fabs(left.conductance - right.conductance) <= 2.1e-9 * 0.02);
  }
  double last = -1.0;
  for (double v = -30.0; v < 3.0; v += 1e-3) {
    const double current = law.respond(v).current;
    CHECK_MESSAGE(current >= last, v);
    last = current;
  }
}

TEST_CASE("reverse data are met") {
  const LedLaw law = example::white();
  CHECK(law.respond(-12.5).current == relative(-50e-9, 1e-9));
  // 10 mA of breakdown and 220 nA of leakage at 105 % of the breakdown voltage.
  CHECK(law.respond(-26.25).current == relative(-10e-3 - 50e-9 * 2.1 * 2.1, 1e-9));
  CHECK(std::fabs(law.respond(0.0).current) <= 1e-15 * law.parameters().saturation_current);
}

TEST_CASE("a shifted LED has its forward voltage higher by the shift") {
  const LedLaw law = example::white();
  for (const double i : {1e-5, 2e-4, 2e-2}) {
    CHECK(law.shifted(0.07).forward_voltage(i) - law.forward_voltage(i) == relative(0.07, 1e-12));
  }
}

TEST_CASE("parameters out of range are the user's errors") {
  const auto with = [](double n, double saturation, double resistance, double kelvin, double breakdown) {
    return LedLaw({n, saturation, resistance, kelvin, {breakdown, 0.0}});
  };
  CHECK_THROWS_AS(with(0.0, 1e-20, 1.0, 300.0, 20.0), InputError);
  CHECK_THROWS_AS(with(2.0, 0.0, 1.0, 300.0, 20.0), InputError);
  CHECK_THROWS_AS(with(2.0, 1e-20, -1.0, 300.0, 20.0), InputError);
  CHECK_THROWS_AS(with(2.0, 1e-20, 1.0, NAN, 20.0), InputError);
  CHECK_THROWS_AS(with(2.0, 1e-20, 1.0, 300.0, 0.0), InputError);
}
