#include "sim/flight/random.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <set>
#include <vector>

#include "tests/outside.hpp"

using namespace driftglow::flight;

// First outputs of SplitMix64 from seed 1234567, as published with the generator's reference code (Vigna,
// from memory); second route: the finaliser must be a bijection, so it cannot collide.
TEST_CASE("the mixer is SplitMix64's") {
  CHECK(mixed(1234567) == 6457827717110365317ULL);
  CHECK(mixed(1234567 + 0x9e3779b97f4a7c15ULL) == 3203168211198807973ULL);
  std::set<std::uint64_t> seen;
  for (std::uint64_t i = 0; i < 20000; ++i) seen.insert(mixed(i));
  CHECK(seen.size() == 20000);
}

TEST_CASE("every seed, replicate, tag and purpose has a stream of its own, and it is always the same") {
  std::set<std::uint32_t> firsts;
  int streams = 0;
  for (std::uint64_t seed : {1, 2}) {
    for (std::uint64_t replicate = 0; replicate < 10; ++replicate) {
      for (std::uint64_t tag = 0; tag < 10; ++tag) {
        for (const Purpose purpose : {Purpose::start, Purpose::air, Purpose::axis, Purpose::build}) {
          pcg32 a = random_stream(seed, replicate, tag, purpose),
                b = random_stream(seed, replicate, tag, purpose);
          CHECK((a == b));
          firsts.insert(a());
          ++streams;
        }
      }
    }
  }
  // 800 draws of 32 bits: one collision has a chance of 7e-5.
  CHECK(static_cast<int>(firsts.size()) == streams);
}

// Correlation of neighbouring streams, and of the mean of many streams' first numbers: normal limits at 4.5
// standard errors.
TEST_CASE("neighbouring streams are not alike") {
  const Outside outside("independence, 4.5 standard errors");
  const int count = 20000;
  pcg32 a = random_stream(1, 0, 0, Purpose::air), b = random_stream(1, 0, 1, Purpose::air);
  double product = 0.0, first = 0.0;
  for (int i = 0; i < count; ++i) {
    product += (uniform(a) - 0.5) * (uniform(b) - 0.5) * 12.0 / count;
    pcg32 own = random_stream(1, i, 0, Purpose::air);
    first += (uniform(own) - 0.5) / count;
  }
  outside.below("correlation of neighbouring streams", std::fabs(product), 4.5 / std::sqrt(count));
  outside.below("mean of many streams' first numbers", std::fabs(first), 4.5 / std::sqrt(12.0 * count));
}

// The state that a lane goes on from is the seeded generator's: its draws are pcg-cpp's.
TEST_CASE("a stream's state goes on as the stream does") {
  for (std::uint64_t tag = 0; tag < 50; ++tag) {
    pcg32 stream = random_stream(9, 2 * tag, tag, Purpose::axis);
    StreamState lane = stream_state(9, 2 * tag, tag, Purpose::axis);
    CHECK(lane.increment % 2 == 1);
    int wrong = 0;
    for (int i = 0; i < 10000; ++i)
      wrong += driftglow::numeric::draw<double>(&lane.state, &lane.increment) != stream();
    CHECK(wrong == 0);
  }
}
