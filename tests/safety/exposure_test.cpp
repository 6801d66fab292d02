#include "models/safety/exposure.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using safety::Guideline;
using safety::Population;

namespace {

constexpr auto everyone = Population::general_public;
constexpr auto staff = Population::occupational;

double level(Guideline guideline, Population population, double frequency) {
  const auto found = safety::reference_flux_density(guideline, population, frequency);
  REQUIRE(found);
  return *found;
}

}  // namespace

// ICNIRP 2010, tables 3 and 4 [memory]: the well-known values at 50 Hz and in the plateau above 3 kHz.
TEST_CASE("the 2010 levels at well-known frequencies") {
  const Outside outside("ICNIRP 2010, tables 3 and 4 [memory]");
  outside.matches("flux density level of 2010, public [T]", level(Guideline::icnirp_2010, everyone, 50.0),
                  200e-6, 1e-12);
  outside.matches("flux density level of 2010, occupational [T]", level(Guideline::icnirp_2010, staff, 50.0),
                  1000e-6, 1e-12);
  outside.matches("flux density level of 2010, public [T]", level(Guideline::icnirp_2010, everyone, 118e3),
                  27e-6, 1e-12);
  outside.matches("flux density level of 2010, occupational [T]", level(Guideline::icnirp_2010, staff, 118e3),
                  100e-6, 1e-12);
  outside.matches("flux density level of 2010, public [T]", level(Guideline::icnirp_2010, everyone, 1e3),
                  80e-6, 1e-12);
}

// Second route to the table: the same guideline's H levels [memory], rounded to one or two digits on their
// own, give B = mu0 H within their rounding (5 %) in every band.
TEST_CASE("the 2010 flux density agrees with the field strength of the same tables") {
  const Outside outside("ICNIRP 2010, H levels of the same tables [memory]");
  const auto agrees = [&outside](Population population, double frequency, double field_strength) {
    outside.matches("flux density levels of 2010 against mu0 H [T]",
                    level(Guideline::icnirp_2010, population, frequency), constant::mu_0 * field_strength,
                    0.05);
  };
  agrees(everyone, 4.0, 3.2e4 / 16.0);
  agrees(everyone, 16.0, 4e3 / 16.0);
  agrees(everyone, 100.0, 160.0);
  agrees(everyone, 1000.0, 6.4e4 / 1000.0);
  agrees(everyone, 1e5, 21.0);
  agrees(staff, 4.0, 1.63e5 / 16.0);
  agrees(staff, 16.0, 2e4 / 16.0);
  agrees(staff, 100.0, 800.0);
  agrees(staff, 1000.0, 2.4e5 / 1000.0);
  agrees(staff, 1e5, 80.0);
}

// Reference levels are drawn as continuous lines; a wrong factor or exponent would leave a step. 3 % is the
// rounding of their factors (8e-2/3e3 = 26.7 uT beside 27 uT).
TEST_CASE("the levels do not jump between bands") {
  const Outside outside("reference levels are continuous between bands");
  const auto continuous = [&outside](Guideline guideline, Population population, double frequency) {
    outside.matches("level across a band's edge [T]", level(guideline, population, frequency * (1.0 - 1e-9)),
                    level(guideline, population, frequency * (1.0 + 1e-9)), 0.03);
  };
  for (const double edge : {8.0, 25.0, 50.0, 300.0, 400.0, 3e3}) {
    for (const auto population : {everyone, staff}) continuous(Guideline::icnirp_2010, population, edge);
  }
  for (const double edge : {30e6, 400e6}) {
    for (const auto population : {everyone, staff}) continuous(Guideline::icnirp_2020, population, edge);
  }
}

// ICNIRP 2020, table 5 [memory], by two other routes: the E levels of the same rows stand to H as free space,
// 376.73 ohm, within their rounding (3 %), and at 2 GHz, 2 GHz being where the power density levels 50 and 10
// W/m2 begin, S = 376.73 ohm H^2 meets them within 5 %.
TEST_CASE("the 2020 levels fit free space") {
  const Outside outside("ICNIRP 2020, table 5: E/H as free space [memory]");
  const auto field_strength = [](Population population, double frequency) {
    return level(Guideline::icnirp_2020, population, frequency) / constant::mu_0;
  };
  outside.matches("E over H of the 2020 levels [ohm]", 61.0 / field_strength(staff, 100e6), 376.73, 0.03);
  outside.matches("E over H of the 2020 levels [ohm]", 27.7 / field_strength(everyone, 100e6), 376.73, 0.03);
  Outside("ICNIRP 2020, power density levels [memory]")
      .matches("power density of the 2020 levels at 2 GHz [W/m2]",
               376.73 * std::pow(field_strength(staff, 2e9), 2), 50.0, 0.05);
  Outside("ICNIRP 2020, power density levels [memory]")
      .matches("power density of the 2020 levels at 2 GHz [W/m2]",
               376.73 * std::pow(field_strength(everyone, 2e9), 2), 10.0, 0.05);
  // The public levels of 2010 and 2020 meet at 100 kHz (27 and 27.6 uT).
  CHECK(level(Guideline::icnirp_2020, everyone, 100e3) == relative(27e-6, 0.03));
}

TEST_CASE("a guideline says nothing outside its range") {
  CHECK_FALSE(safety::reference_flux_density(Guideline::icnirp_2010, everyone, 0.5));
  CHECK_FALSE(safety::reference_flux_density(Guideline::icnirp_2010, everyone, 11e6));
  CHECK_FALSE(safety::reference_flux_density(Guideline::icnirp_2020, everyone, 99e3));
  CHECK_FALSE(safety::reference_flux_density(Guideline::icnirp_2020, everyone, 3e9));
  CHECK_THROWS_AS(safety::reference_flux_density(Guideline::icnirp_2010, everyone, 0.0), LogicError);
}

// model.md section 8: 99 uT rms at 118 kHz is above public levels.
TEST_CASE("the cautions of the worked example, strictest first") {
  const auto cautions = safety::field_cautions(99e-6, 117.72e3);
  REQUIRE(cautions.size() == 4);
  CHECK(cautions[0].guideline == Guideline::icnirp_2020);
  CHECK(cautions[0].population == everyone);
  CHECK(cautions[0].ratio() == relative(99.0 / (1.25663706 * 2.2 / 0.11772), 1e-8));
  CHECK(cautions[1].population == everyone);
  CHECK(cautions[1].ratio() == relative(99.0 / 27.0, 1e-12));
  CHECK(cautions[3].ratio() == relative(0.99, 1e-12));
  CHECK(safety::field_cautions(1e-6, 50.0).size() == 2);
  CHECK_THROWS_AS(safety::field_cautions(std::nan(""), 50.0), LogicError);
}

// ICNIRP 2020, table 6 [memory], by two other routes: the absorbed power allowed to staff is five times that
// of the public, in the whole body (0.4 and 0.08 W/kg) as locally, and the field goes with its root; and the
// E levels of the same rows [memory] rise from whole body to local by the same factor as H. 4 %: two digits
// of each.
TEST_CASE("the local levels of 2020") {
  const Outside outside("ICNIRP 2020, table 6: power ratios and E levels [memory]");
  const auto local = [](Population population, double frequency) {
    return safety::reference_flux_density(Guideline::icnirp_2020, population, frequency,
                                          safety::Extent::local);
  };
  for (const double frequency : {100e3, 118e3, 1e6, 9e6}) {
    REQUIRE(local(everyone, frequency));
    outside.matches("local flux density levels of 2020 [T]", *local(staff, frequency),
                    std::sqrt(5.0) * *local(everyone, frequency), 0.04);
    outside.matches("local flux density levels of 2020 [T]", *local(staff, frequency),
                    1504.0 / 660.0 * level(Guideline::icnirp_2020, staff, frequency), 0.04);
    outside.matches("local flux density levels of 2020 [T]", *local(everyone, frequency),
                    671.0 / 300.0 * level(Guideline::icnirp_2020, everyone, frequency), 0.04);
  }
  outside.matches("local flux density levels of 2020 [T]", *local(staff, 1e6), constant::mu_0 * 10.8, 1e-12);
  CHECK_FALSE(local(everyone, 50e3));
  CHECK_FALSE(local(everyone, 20e6));
}
