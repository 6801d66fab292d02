#pragma once

#include <algorithm>

#include "sim/flight/instruction_set.hpp"

namespace driftglow::program_test {

// Whether this build has the kernel and this machine runs it.
inline bool available(flight::InstructionSet set) {
  const auto sets = flight::available_instruction_sets();
  return std::find(sets.begin(), sets.end(), set) != sets.end();
}

}  // namespace driftglow::program_test
