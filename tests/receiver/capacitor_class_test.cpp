#include "models/receiver/capacitor_class.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

namespace {

constexpr double kelvin(double celsius) {
  return celsius + 273.15;
}

}  // namespace

// IEC 60062, clause on tolerance letters (from memory; the second route is that the steps go with the series
// of IEC 60063, whose values lie just as far apart: E6 with M, E12 with K, E24 with J, E48 with G, E96 with
// F).
TEST_CASE("tolerance letters of IEC 60062") {
  const Outside outside("IEC 60062 letters against the steps of IEC 60063 [memory]");
  struct Row {
    char letter;
    int values_a_decade;
  };
  for (const auto& [letter, count] : {Row{'M', 6}, Row{'K', 12}, Row{'J', 24}, Row{'G', 48}, Row{'F', 96}}) {
    const auto bounds = tolerance_of_letter(letter, 1e-9);
    CHECK(bounds.low == -bounds.high);
    // Neighbours' bands meet: (1 + t)/(1 - t) = 10^(1/n), within the rounding of t.
    outside.matches("tolerance letters against the steps of preferred values",
                    (1.0 + bounds.high) / (1.0 - bounds.high), std::pow(10.0, 1.0 / count), 0.025);
  }
  CHECK(tolerance_of_letter('J', 47e-9).high == 0.05);
  CHECK(tolerance_of_letter('Z', 1e-6).low == -0.20);
  CHECK(tolerance_of_letter('Z', 1e-6).high == 0.80);
  // 4.7 pF with C: +-0.25 pF.
  CHECK(tolerance_of_letter('C', 4.7e-12).high == relative(0.25 / 4.7, 1e-12));
  CHECK(tolerance_of_letter('C', 47e-12).high == 0.0025);
  CHECK_THROWS_AS(tolerance_of_letter('X', 1e-9), InputError);
}

// EIA-198 and IEC 60384-9 (from memory); the same materials carry codes of both, which must agree: X7R is 2X1
// or 2R1 (+-15 %, -55 to 125 degC), Y5U's -56 +22 % is 2E's.
TEST_CASE("temperature characteristics by code") {
  const Outside outside("EIA-198 and IEC 60384-9 [memory]");
  const auto x7r = temperature_characteristic("X7R"), iec = temperature_characteristic("2R1");
  CHECK(x7r.lowest == iec.lowest);
  CHECK(x7r.highest == iec.highest);
  CHECK(x7r.low == iec.low);
  CHECK(x7r.high == iec.high);
  outside.matches("lowest temperature of X7R [K]", x7r.lowest, kelvin(-55.0), 1e-12);
  outside.matches("highest temperature of X7R [K]", x7r.highest, kelvin(125.0), 1e-12);
  CHECK(temperature_change(x7r, kelvin(85.0)).low == -0.15);
  const auto y5u = temperature_characteristic("Y5U"), e4 = temperature_characteristic("2E4");
  CHECK(y5u.low == e4.low);
  CHECK(y5u.high == e4.high);

  // 0 +- 30 ppm/K over 60 K: 0.18 % either way; U2J is N750 +- 120 ppm/K.
  const auto c0g = temperature_change(temperature_characteristic("C0G"), kelvin(85.0));
  outside.matches("change of C0G over 60 K", c0g.high, 30e-6 * 60.0, 1e-9);
  CHECK(c0g.low == relative(-30e-6 * 60.0, 1e-9));
  const auto n750 = temperature_characteristic("U2J");
  outside.matches("coefficient of N750 [1/K]", 0.5 * (n750.low + n750.high), -750e-6, 1e-9);
  const auto cold = temperature_change(n750, kelvin(-55.0));
  CHECK(cold.high == relative(870e-6 * 80.0, 1e-9));
  CHECK(cold.low == relative(630e-6 * 80.0, 1e-9));
  CHECK(temperature_characteristic("COG").high == temperature_characteristic("C0G").high);

  CHECK_THROWS_AS(temperature_characteristic("X7"), InputError);
  CHECK_THROWS_AS(temperature_characteristic("Q7R"), InputError);
  CHECK_THROWS_AS(temperature_characteristic("2R9"), InputError);
  CHECK_THROWS_AS(temperature_change(temperature_characteristic("X5R"), kelvin(100.0)), InputError);
  CHECK_THROWS_AS(film_characteristic(Dielectric::class_1_ceramic), InputError);
  CHECK(temperature_change(film_characteristic(Dielectric::polypropylene), kelvin(70.0)).low ==
        relative(-0.015, 1e-9));
}

// Orders of the trade (common practice, no source): class 1 and polypropylene for a tank, class 2 spoils a Q
// above 40, polyester in between.
TEST_CASE("loss tangents by dielectric") {
  for (const double f : {1e3, 30e3, 118e3, 1e6}) {
    const auto c1 = loss_tangent(Dielectric::class_1_ceramic, f),
               c2 = loss_tangent(Dielectric::class_2_ceramic, f),
               pp = loss_tangent(Dielectric::polypropylene, f), pet = loss_tangent(Dielectric::polyester, f);
    for (const auto& loss : {c1, c2, pp, pet}) CHECK(loss.typical < loss.limit);
    CHECK(c1.limit == 1e-3);
    CHECK(c2.limit == 0.025);
    CHECK(pp.typical < pet.typical);
    CHECK(pet.typical <= c2.typical);
  }
  CHECK(loss_tangent(Dielectric::polyester, 1e3).limit == relative(0.01));
  CHECK(loss_tangent(Dielectric::polyester, std::sqrt(10.0) * 1e3).limit == relative(0.0125, 1e-9));
  CHECK(loss_tangent(Dielectric::polyester, 118e3).limit == relative(0.03));
}

// Second route: the charge by integrating the law, its fundamental by projecting on the cosine. And the
// limits: the differential value for a small sine on the rated voltage; 1 - V^2/(12 V_0^2) for a small sine
// alone.
TEST_CASE("class 2 under voltage") {
  const Outside outside("charge integrated and projected on the cosine");
  const BiasLoss x7r{50.0, 0.5};
  CHECK(biased_capacitance(x7r, 0.0, 0.0) == relative(1.0, 1e-14));
  CHECK(biased_capacitance(x7r, 50.0, 1e-3) == relative(0.5, 1e-8));
  Outside("limit 1 - V^2/(12 V0^2)")
      .matches("class 2 capacitance under a small sine", biased_capacitance(x7r, 0.0, 1.0),
               1.0 - 7.0 / (12.0 * 2500.0), 1e-6);
  CHECK(biased_capacitance({50.0, 1.0}, 30.0, 40.0) == relative(1.0, 1e-14));
  CHECK(biased_capacitance(x7r, 0.0, 40.0) > biased_capacitance(x7r, 40.0, 0.0));

  for (const double bias : {0.0, 20.0}) {
    const double amplitude = 35.0;
    const auto charge = [](double v) {  // midpoint rule
      double sum = 0.0;
      for (int i = 0; i < 2000; ++i) {
        const double u = v * (i + 0.5) / 2000.0;
        sum += std::pow(1.0 + 7.0 * u * u / 2500.0, -1.0 / 3.0);
      }
      return sum * v / 2000.0;
    };
    double fundamental = 0.0;
    for (int i = 0; i < 200; ++i) {
      const double angle = 2.0 * constant::pi * i / 200.0;
      fundamental += charge(bias + amplitude * std::cos(angle)) * std::cos(angle) / 100.0;
    }
    outside.matches("class 2 capacitance under bias and sine", biased_capacitance(x7r, bias, amplitude),
                    fundamental / amplitude, 1e-6);
  }
  CHECK(common_remaining_at_rated(temperature_characteristic("C0G")) == 1.0);
  CHECK(common_remaining_at_rated(temperature_characteristic("X7R")) >
        common_remaining_at_rated(temperature_characteristic("X5R")));
  CHECK(common_remaining_at_rated(temperature_characteristic("Y5V")) < 0.2);
  CHECK_THROWS_AS(biased_capacitance({0.0, 0.5}, 1.0, 0.0), InputError);
  CHECK_THROWS_AS(biased_capacitance({50.0, 1.5}, 1.0, 0.0), InputError);
}
