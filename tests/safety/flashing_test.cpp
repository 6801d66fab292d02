#include "models/safety/flashing.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "models/error.hpp"
#include "tests/relative.hpp"

using namespace driftglow;

// Counted by hand: of ten flashes, the four 0.2 s after the last (5 per second) and the one at 1/30 s are in
// the band; of the 3.873 s, 0.833 s.
TEST_CASE("the shares of flashes and of time in the sensitive band") {
  const double periods[] = {0.2, 1.0, 0.02, 1.0 / 30.0};
  const double counts[] = {4.0, 3.0, 2.0, 1.0};
  CHECK(safety::sensitive_flash_share(periods, counts) == relative(0.5, 1e-12));
  CHECK(safety::sensitive_time_share(periods, counts) ==
        relative((0.8 + 1.0 / 30.0) / (0.8 + 3.0 + 0.04 + 1.0 / 30.0), 1e-12));
  CHECK(safety::sensitive_flash_share({}, {}) == 0.0);
  CHECK(safety::sensitive_time_share({}, {}) == 0.0);
  CHECK_THROWS_AS(safety::sensitive_flash_share(periods, {}), LogicError);
  CHECK_THROWS_AS(safety::sensitive_time_share(periods, {}), LogicError);
}

// By hand: 3 and 30 per second are in, 2.99 and 31 are out.
TEST_CASE("the share of tags in the sensitive band") {
  const double rates[] = {60.0 * 3.0, 60.0 * 2.99, 60.0 * 30.0, 60.0 * 31.0, 0.0};
  CHECK(safety::sensitive_tag_share(rates) == relative(0.4, 1e-12));
  CHECK(safety::sensitive_tag_share({}) == 0.0);
  const double bad[] = {-1.0};
  CHECK_THROWS_AS(safety::sensitive_tag_share(bad), LogicError);
}

// Second route: flashes thrown at random into seconds and counted. 200 000 seconds: standard error 1.1e-3 at
// most; five of them.
TEST_CASE("seconds with more than three random flashes") {
  std::mt19937_64 engine(20240611);
  for (const double per_second : {0.5, 2.0, 5.0}) {
    constexpr int seconds = 200000;
    std::vector<int> counted(seconds, 0);
    const auto flashes = static_cast<int>(per_second * seconds);
    for (int i = 0; i < flashes; ++i) ++counted[engine() % seconds];
    double crowded = 0.0;
    for (const int n : counted) crowded += n > 3 ? 1.0 : 0.0;
    const double share = crowded / seconds, error = std::sqrt(share * (1.0 - share) / seconds);
    CHECK(std::fabs(safety::crowded_second_share(60.0 * per_second) - share) < 5.0 * error);
  }
  CHECK(safety::crowded_second_share(0.0) == 0.0);
  CHECK_THROWS_AS(safety::crowded_second_share(-1.0), LogicError);
}
