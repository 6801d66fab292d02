#include "models/air/operating_point.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_poly.h>

#include <string>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using air::FanCurve;
using air::FlowSystem;

namespace {

std::string refusal(const FanCurve& fan, const FlowSystem& system) {
  try {
    air::operating_point(fan, system);
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

const FanCurve linear("test", {{0.0, 100.0}, {0.1, 0.0}});

}  // namespace

// Worked by hand: 100 Pa falling to 0 at 0.1 m3/s. One loss of K = 2.4 in 0.012 m2 at 1.2 kg/m3 takes
// 0.6 * 2.4 / 1.44e-4 = 1e4 Pa s2/m6; tags of 0.5 N over 0.02 m2 take 25 Pa. At 0.05 m3/s: fan 50 Pa = 25 Pa
// + 25 Pa.
TEST_CASE("the operating point of the worked example") {
  const Outside outside("worked by hand");
  const auto point = air::operating_point(linear, {{{"guard", 2.4, 0.012}}, 0.0, 0.02, 0.5, 1.2});
  outside.matches("flow of the worked fan [m3/s]", point.flow, 0.05, 1e-12);
  outside.matches("pressure of the worked fan [Pa]", point.pressure, 50.0, 1e-12);
  outside.matches("pressure of the tags' weight [Pa]", point.tag_pressure, 25.0, 1e-12);
  CHECK(point.pressure_margin == relative(0.5, 1e-12));
  CHECK(point.flow_margin == relative(0.5, 1e-12));
  REQUIRE(point.loss_pressures.size() == 1);
  CHECK(point.loss_pressures[0].first == "guard");
  CHECK(point.loss_pressures[0].second == relative(25.0, 1e-12));
}

// A straight fan curve makes a quadratic, solved by GSL; fins and two losses add up. Rounding only.
TEST_CASE("a straight fan curve gives the root of the quadratic") {
  const Outside outside("quadratic equation by GSL");
  const FlowSystem system{{{"inlet", 0.5, 0.011}, {"mesh", 1.7, 0.02}}, 0.8, 0.0283, 0.11, 1.19};
  const auto point = air::operating_point(linear, system);
  const double a = 0.5 * 1.19 * (0.5 / (0.011 * 0.011) + 1.7 / (0.02 * 0.02) + 0.8 / (0.0283 * 0.0283));
  double low = 0.0, high = 0.0;
  REQUIRE(gsl_poly_solve_quadratic(a, 1000.0, -(100.0 - 0.11 / 0.0283), &low, &high) == 2);
  outside.matches("flow of a straight fan curve [m3/s]", point.flow, high, 1e-12);
  REQUIRE(point.loss_pressures.size() == 3);
  double sum = point.tag_pressure;
  for (const auto& [name, pressure] : point.loss_pressures) sum += pressure;
  outside.matches("losses of a straight fan curve [Pa]", sum, 100.0 - 1000.0 * high, 1e-12);
}

// Definition of the balance: the fan's pressure, read off the drawn curve, equals the system's, in each
// segment.
TEST_CASE("the balance holds on every segment of a curve, and on its points") {
  const Outside outside("fan curve drawn by hand");
  const FanCurve fan("bent", {{0.0, 120.0}, {0.02, 110.0}, {0.05, 110.0}, {0.08, 60.0}, {0.1, 0.0}});
  for (double k = 0.05; k < 500.0; k *= 1.7) {
    const auto point = air::operating_point(fan, {{{"all", k, 0.03}}, 0.0, 0.03, 0.3, 1.2});
    double drawn = 0.0;
    for (std::size_t i = 1; i < fan.points().size(); ++i) {
      const auto [q0, p0] = fan.points()[i - 1];
      const auto [q1, p1] = fan.points()[i];
      if (point.flow >= q0 && point.flow <= q1) drawn = p0 + (p1 - p0) * (point.flow - q0) / (q1 - q0);
    }
    outside.matches("pressure on a fan curve's segments [Pa]", point.pressure, drawn, 1e-10);
  }
  // 110 Pa at exactly 0.05 m3/s: K = (110 - 10) / (0.6 * 0.05^2 / 0.03^2) = 60.
  CHECK(air::operating_point(fan, {{{"all", 60.0, 0.03}}, 0.0, 0.03, 0.3, 1.2}).flow ==
        relative(0.05, 1e-12));
  // No losses: the tags alone set the point; 10 Pa on the last segment is at 0.1 - 0.02 * 10/60.
  CHECK(air::operating_point(fan, {{}, 0.0, 0.03, 0.3, 1.2}).flow == relative(0.1 - 0.02 / 6.0, 1e-12));
}

TEST_CASE("a fan that cannot carry the tags is refused with both pressures") {
  const auto message = refusal(linear, {{{"guard", 1.0, 0.02}}, 0.0, 0.02, 2.4, 1.2});
  CHECK(message.find("gives at most 100 Pa") != std::string::npos);
  CHECK(message.find("takes 120 Pa") != std::string::npos);
}

TEST_CASE("a curve that ends before the balance is refused") {
  const FanCurve cut("cut", {{0.0, 100.0}, {0.05, 80.0}});
  CHECK(refusal(cut, {{{"guard", 1.0, 0.02}}, 0.0, 0.02, 0.0, 1.2}).find("ends at 0.05 m3/s") !=
        std::string::npos);
  const FanCurve late("late", {{0.05, 100.0}, {0.1, 0.0}});
  CHECK(refusal(late, {{{"guard", 90.0, 0.01}}, 0.0, 0.02, 0.0, 1.2}).find("first point") !=
        std::string::npos);
}

TEST_CASE("points that are no fan curve are refused") {
  using Points = std::vector<std::pair<double, double>>;
  CHECK_THROWS_AS(FanCurve("f", Points{{0.0, 100.0}}), InputError);
  CHECK_THROWS_AS(FanCurve("f", Points{{0.0, 100.0}, {0.0, 50.0}}), InputError);
  CHECK_THROWS_AS(FanCurve("f", Points{{0.0, 90.0}, {0.01, 95.0}, {0.1, 0.0}}), InputError);
  CHECK_THROWS_AS(FanCurve("f", Points{{-0.1, 90.0}, {0.1, 0.0}}), InputError);
  CHECK_THROWS_AS(air::operating_point(linear, {{{"guard", 1.0, 0.0}}, 0.0, 0.02, 0.0, 1.2}), InputError);
  CHECK_THROWS_AS(air::operating_point(linear, {{}, 0.0, 0.0, 0.0, 1.2}), InputError);
}
