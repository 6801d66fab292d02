#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "sim/flight/instruction_set.hpp"

// Whether this build has the set's kernel and this machine runs it.
inline bool available(driftglow::flight::InstructionSet set) {
  const auto sets = driftglow::flight::available_instruction_sets();
  return std::find(sets.begin(), sets.end(), set) != sets.end();
}

// Calls use(set) for every set of packs that this machine can run, and says which ones it passes over.
template <class Use>
void each_pack(const Use& use) {
  using enum driftglow::flight::InstructionSet;
  for (const auto set : {baseline, avx2, avx512}) {
    const std::string name(driftglow::flight::name(set));
    CAPTURE(name);
    if (available(set)) {
      use(set);
    } else {
      MESSAGE("skipped: this machine has no " << name);
    }
  }
}
