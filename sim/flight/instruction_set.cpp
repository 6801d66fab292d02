#include "sim/flight/instruction_set.hpp"

namespace driftglow::flight {

std::string_view name(InstructionSet set) {
  switch (set) {
    case InstructionSet::scalar:
      return "scalar";
    case InstructionSet::baseline:
      return "baseline";
    case InstructionSet::avx2:
      return "avx2";
    case InstructionSet::avx512:
      return "avx512";
  }
  return "";
}

std::string_view arithmetic(InstructionSet set) {
  switch (set) {
    case InstructionSet::scalar:
      return "double precision";
    case InstructionSet::baseline:
      return "single precision";
    case InstructionSet::avx2:
    case InstructionSet::avx512:
      return "single precision, fused";
  }
  return "";
}

std::vector<InstructionSet> available_instruction_sets() {
  std::vector<InstructionSet> sets{InstructionSet::scalar, InstructionSet::baseline};
#ifdef DRIFTGLOW_X86
  if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) sets.push_back(InstructionSet::avx2);
  if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512dq") &&
      __builtin_cpu_supports("avx512vl")) {
    sets.push_back(InstructionSet::avx512);
  }
#endif
  return sets;
}

}  // namespace driftglow::flight
