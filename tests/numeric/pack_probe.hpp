#pragma once

#include <cstdint>

#include "sim/flight/instruction_set.hpp"

// The operations of a pack as functions over plain arrays, so that tests compiled for any machine can look at
// packs of wider ones. Implemented once an instruction set by pack_probe.cpp.
namespace driftglow::numeric {

struct PackProbe {
  int lanes;

  // Arguments and results stand one pack after the other, at addresses divisible by 64; masks as 1 and 0.
  using Operation = void (*)(const float* in, float* out);
  Operation copy, add, subtract, multiply, divide, negate, minimum, maximum, square_root, absolute,
      round_nearest, multiply_add;
  Operation less, greater, less_equal, equal;
  Operation select;          // (x, y, a, b): x < y ? a : b
  Operation split_exponent;  // exponent, mantissa
  Operation scale_exponent;
  Operation exponential, logarithm, sine_cosine, sine_cosine_of_turns, normal_pair;

  // Of x < y.
  bool (*any)(const float* in);
  std::uint32_t (*bits)(const float* in);

  void (*broadcast)(double x, float* out);

  using Indexing = void (*)(const float* in, std::int32_t* out);
  Indexing truncate;
  Indexing index_sum;  // 7 truncate(x) + 11 + truncate(y)
  Operation to_real;   // of truncate(x)
  void (*lane_number)(std::int32_t* out);

  using Reading = void (*)(const float* table, const float* index, float* out);
  Reading load_row_4, load_row_8, load_row_16, load_row_20, load_two;

  void (*draw)(std::uint64_t* state, const std::uint64_t* increment, std::uint32_t* out);
  void (*unit_interval)(const std::uint32_t* drawn, float* out);
};

extern const PackProbe probe_baseline;
#ifdef DRIFTGLOW_X86
extern const PackProbe probe_avx2, probe_avx512;
#endif

inline const PackProbe& probe_of([[maybe_unused]] flight::InstructionSet set) {
#ifdef DRIFTGLOW_X86
  if (set == flight::InstructionSet::avx2) return probe_avx2;
  if (set == flight::InstructionSet::avx512) return probe_avx512;
#endif
  return probe_baseline;
}

}  // namespace driftglow::numeric
