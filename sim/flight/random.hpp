#pragma once

#include <cstdint>
#include <pcg_random.hpp>

#include "models/numeric/lane.hpp"

namespace driftglow::flight {

// What a random number is for. A new purpose goes to the end: then nothing else shifts.
enum class Purpose : std::uint64_t { start, air, axis, build, drive };

// Finaliser of the SplitMix64 generator [steele2014].
constexpr std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15ULL;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ULL;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebULL;
  return x ^ (x >> 31);
}

// A stream of its own for every (seed, replicate, tag, purpose): state and increment are both hashed, because
// streams of one state and neighbouring increments are alike.
constexpr std::uint64_t stream_key(std::uint64_t seed, std::uint64_t replicate, std::uint64_t tag,
                                   Purpose purpose) {
  return mixed(mixed(mixed(mixed(seed) ^ replicate) ^ tag) ^ static_cast<std::uint64_t>(purpose));
}
inline pcg32 random_stream(std::uint64_t seed, std::uint64_t replicate, std::uint64_t tag, Purpose purpose) {
  const std::uint64_t key = stream_key(seed, replicate, tag, purpose);
  return pcg32(key, mixed(key));
}

// The same stream as numbers that numeric::draw() goes on from.
struct StreamState {
  std::uint64_t state, increment;
};
constexpr StreamState stream_state(std::uint64_t seed, std::uint64_t replicate, std::uint64_t tag,
                                   Purpose purpose) {
  const std::uint64_t key = stream_key(seed, replicate, tag, purpose);
  const std::uint64_t increment = (mixed(key) << 1) | 1;
  return {(key + increment) * numeric::pcg32_multiplier + increment, increment};
}

// Uniform in (0, 1), never 0 or 1: 2^32 values in the middle of their cells.
inline double uniform(pcg32& stream) {
  return (static_cast<double>(stream()) + 0.5) * 0x1p-32;
}

}  // namespace driftglow::flight
