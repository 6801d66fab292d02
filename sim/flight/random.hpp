#pragma once

#include <cstdint>
#include <pcg_random.hpp>

namespace driftglow::flight {

// What a random number is for. A new purpose goes to the end: then nothing else shifts.
enum class Purpose : std::uint64_t { start, air, axis, build };

// Finaliser of the SplitMix64 generator [steele2014].
constexpr std::uint64_t mixed(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15ULL;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ULL;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebULL;
  return x ^ (x >> 31);
}

// A stream of its own for every (seed, replicate, tag, purpose): state and increment are both hashed, because
// streams of one state and neighbouring increments are alike.
inline pcg32 random_stream(std::uint64_t seed, std::uint64_t replicate, std::uint64_t tag, Purpose purpose) {
  const std::uint64_t key =
      mixed(mixed(mixed(mixed(seed) ^ replicate) ^ tag) ^ static_cast<std::uint64_t>(purpose));
  return pcg32(key, mixed(key));
}

// Uniform in (0, 1), never 0 or 1: 2^32 values in the middle of their cells.
inline double uniform(pcg32& stream) {
  return (static_cast<double>(stream()) + 0.5) * 0x1p-32;
}

}  // namespace driftglow::flight
