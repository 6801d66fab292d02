#include "models/safety/touch.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using safety::Population;

// By hand, model.md section 8: 41.8 V peak is 29.6 V rms, 59 mA through 500 ohm, against 20 mA for the
// public.
TEST_CASE("the worked drive's coil ends") {
  const Outside outside("worked by hand");
  const auto touch = safety::touch_of(41.8, 117.72e3);
  outside.matches("touch voltage of the worked drive, rms [V]", touch.voltage_rms, 29.56, 1e-3);
  outside.matches("contact current of the worked drive [A]", touch.contact_current, 59.1e-3, 2e-3);
  CHECK(touch.contact_current_level == relative(20e-3, 1e-12));
  REQUIRE(touch.levels.size() == 4);
  CHECK(touch.ratio(touch.levels[1]) > 1.0);  // dry: 25 V
  CHECK(touch.ratio(touch.levels[2]) < 1.0);  // instrument: 30 V
  for (std::size_t i = 1; i < touch.levels.size(); ++i)
    CHECK(touch.levels[i].ac_rms > touch.levels[i - 1].ac_rms);
}

// ICNIRP 2010, table 5 [memory]; second route: the line of contact currents has no step (0.2 mA x 2.5 = 0.5
// mA, 0.2 mA x 100 = 20 mA), and staff stand at twice the public.
TEST_CASE("contact currents") {
  const Outside outside("ICNIRP 2010, table 5 [memory]");
  outside.matches("contact current level, public [A]",
                  safety::contact_current_level(Population::general_public, 50.0), 0.5e-3, 1e-12);
  outside.matches("contact current level, public [A]",
                  safety::contact_current_level(Population::general_public, 2.5e3), 0.5e-3, 1e-9);
  outside.matches("contact current level, public [A]",
                  safety::contact_current_level(Population::general_public, 50e3), 10e-3, 1e-12);
  outside.matches("contact current level, occupational [A]",
                  safety::contact_current_level(Population::occupational, 100e3), 40e-3, 1e-9);
  outside.matches("contact current level, occupational [A]",
                  safety::contact_current_level(Population::occupational, 1e6), 40e-3, 1e-12);
  CHECK_THROWS_AS(safety::contact_current_level(Population::occupational, 111e6), LogicError);
  CHECK_THROWS_AS(safety::touch_of(-1.0, 1e5), LogicError);
}
