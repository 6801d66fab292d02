#include "models/safety/flashing.hpp"

#include <doctest/doctest.h>

#include "models/error.hpp"
#include "tests/outside.hpp"

using namespace driftglow;

// Counted by hand: of ten flashes, the four 0.2 s after the last (5 per second) and the one at 1/30 s are in
// the band; 3 and 30 per second are in, 2.99 and 31 are out.
TEST_CASE("the share of flashes in the sensitive band") {
  const Outside outside("counted by hand");
  const double periods[] = {0.2, 1.0, 0.02, 1.0 / 30.0};
  const double counts[] = {4.0, 3.0, 2.0, 1.0};
  outside.matches("share of flashes in the sensitive band", safety::sensitive_flash_share(periods, counts),
                  0.5, 1e-12);
  CHECK(safety::sensitive_flash_share({}, {}) == 0.0);
  const double ends[] = {1.0 / 3.0, 1.0 / 2.99, 1.0 / 30.0, 1.0 / 31.0}, one_each[] = {1.0, 1.0, 1.0, 1.0};
  outside.matches("share of flashes in the sensitive band", safety::sensitive_flash_share(ends, one_each),
                  0.5, 1e-12);
  CHECK_THROWS_AS(safety::sensitive_flash_share(periods, {}), LogicError);
}
