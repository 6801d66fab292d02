#include "models/safety/radiated.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>

#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using constant::pi;

// Near field: the exact field of a turn of 0.1 m radius, at 3 m; the finite size enters by (a/r)^2, about
// 2e-3.
TEST_CASE("a dipole's near field against an exact turn") {
  const Outside outside("exact field of a turn");
  const double moment = pi * 0.01;
  const double exact = coil::turn_field(0.1, 0.0, 3.0).axial / constant::mu_0;
  outside.matches("near field of a dipole [A/m]", safety::dipole_field_strength(moment, 100e3, 3.0), exact,
                  3e-3);
}

// Far field: m k^2/(4 pi r), which a radiated power P = Z0 k^4 m^2/(6 pi) (magnetic dipole, textbook, rms
// moment) and the gain 3/2 give as H = sqrt(1.5 P/(4 pi r^2 Z0)).
TEST_CASE("a dipole's far field against its radiated power") {
  const Outside outside("radiated power of a magnetic dipole and gain 3/2 (textbook)");
  const double f = 27e6, k = 2.0 * pi * f / constant::light_speed, r = 1000.0, m = 1e-3, Z0 = 376.730313;
  const double power = Z0 * std::pow(k, 4) * m * m / (6.0 * pi);
  outside.matches("far field of a dipole [A/m]", safety::dipole_field_strength(m, f, r),
                  std::sqrt(1.5 * power / (4.0 * pi * r * r * Z0)), 1e-5);
}

// By hand between the two, kr = 2: on the axis 2 sqrt(1 + 4), in the plane sqrt(9 + 4), of m/(4 pi r^3).
TEST_CASE("a dipole's field where near and far meet") {
  const Outside outside("worked by hand");
  const double f = 13.56e6, r = 2.0 * constant::light_speed / (2.0 * pi * f);
  outside.matches("field of a dipole at kr = 2 [A/m]", safety::dipole_field_strength(1.0, f, r),
                  2.0 * std::sqrt(5.0) / (4.0 * pi * r * r * r), 1e-12);
}

// By hand: 20 turns of 0.1 m radius at 0.618 A peak (model.md section 8): 0.2746 A m2 rms; at 10 m, 118 kHz
// (kr = 0.025) 43.7 uA/m = 32.8 dB.
TEST_CASE("the worked drive at ten metres") {
  const Outside outside("worked by hand");
  const double moment = 20.0 * pi * 0.01 * 0.618 / std::sqrt(2.0);
  const auto fields = safety::radiated_fields(moment, 117.72e3);
  CHECK(fields[1].distance == 10.0);
  outside.near("level of the worked drive at 10 m [dBuA/m]", fields[1].level, 32.8, 0.05);
  REQUIRE(fields[1].limit);
  CHECK(*fields[1].limit == relative(42.0, 1e-12));
  // 60 dB a decade of distance for level and limit alike; (kr)^2 adds 0.03 dB at 30 m.
  CHECK(fields[0].level - fields[1].level == doctest::Approx(60.0 * std::log10(10.0 / 3.0)).epsilon(1e-3));
  CHECK(fields[1].level - fields[2].level == doctest::Approx(60.0 * std::log10(3.0)).epsilon(1e-3));
  for (const auto& field : fields)
    CHECK(*field.limit - field.level == doctest::Approx(42.0 - fields[1].level).epsilon(1e-9));
  CHECK(safety::decibel_microampere(1e-6) == doctest::Approx(0.0));
}

// ETSI EN 300 330 [memory], spot values; second route where there is one: a slope of 3 dB an octave over the
// 1.585 octaves from 30 to 90 kHz takes 4.75 dB.
TEST_CASE("the short-range limit curve") {
  const Outside outside("ETSI EN 300 330 and its slope [memory]");
  CHECK(*safety::short_range_limit(20e3) == 72.0);
  outside.matches("limit just below 90 kHz [dBuA/m]", *safety::short_range_limit(89.999e3),
                  72.0 - 3.0 * std::log2(3.0), 1e-3);
  CHECK(*safety::short_range_limit(100e3) == 42.0);
  outside.matches("limit at 125 kHz [dBuA/m]", *safety::short_range_limit(125e3), 65.8, 1e-3);
  CHECK(*safety::short_range_limit(1e6) == -15.0);
  CHECK(*safety::short_range_limit(13.56e6) == 42.0);
  CHECK(*safety::short_range_limit(20e6) == -20.0);
  CHECK_FALSE(safety::short_range_limit(5e3));
  CHECK_FALSE(safety::short_range_limit(31e6));
  CHECK_FALSE(safety::radiated_fields(1.0, 5e3)[0].limit);
  CHECK_THROWS_AS(safety::short_range_limit(0.0), LogicError);
  CHECK_THROWS_AS(safety::dipole_field_strength(-1.0, 1e5, 1.0), LogicError);
}
