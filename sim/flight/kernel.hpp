#pragma once

#include <array>
#include <cstdint>

#include "sim/flight/arrays.hpp"
#include "sim/flight/instruction_set.hpp"

namespace driftglow::flight {

// The stages of a step in their order, each over all tags; see_field and shine only after warm-up.
enum Stage { stir, sample_air, advance, touch_tags, touch_vessel, see_field, shine, stages };
inline constexpr std::array<const char*, stages> stage_names{
    "stir", "sample_air", "advance", "touch_tags", "touch_vessel", "see_field", "shine"};

// The stages compiled for one instruction set. A stage does what it does for time step `step` (counted from
// the end of warm-up) of all lanes.
template <class Real>
struct Kernel {
  int lanes;
  using StageFunction = void (*)(const Plan& plan, const FlightArrays<Real>& arrays, std::int64_t step);
  std::array<StageFunction, stages> stage;
  // In place of see_field and shine where tags couple: what each fit of a tag sees comes between.
  StageFunction see_phasors, shine_coupled;
};

extern const Kernel<double> kernel_scalar;
extern const Kernel<float> kernel_baseline;
#ifdef DRIFTGLOW_X86
extern const Kernel<float> kernel_avx2;
extern const Kernel<float> kernel_avx512;
#endif

// Calls use(kernel) with the kernel of an available instruction set.
template <class Use>
auto with_kernel(InstructionSet set, const Use& use) {
  switch (set) {
    case InstructionSet::scalar:
      return use(kernel_scalar);
#ifdef DRIFTGLOW_X86
    case InstructionSet::avx2:
      return use(kernel_avx2);
    case InstructionSet::avx512:
      return use(kernel_avx512);
#endif
    default:
      return use(kernel_baseline);
  }
}

}  // namespace driftglow::flight
