#pragma once

#include <cstdint>
#include <random>

namespace driftglow::coil {

// Uniform numbers in (0, 1) for probe points; the same on every standard library, which
// std::uniform_real_distribution is not.
class UniformDraw {
 public:
  explicit UniformDraw(std::uint64_t seed) : engine_(seed) {}
  double operator()() { return (static_cast<double>(engine_() >> 11) + 0.5) * 0x1p-53; }

 private:
  std::mt19937_64 engine_;
};

}  // namespace driftglow::coil
