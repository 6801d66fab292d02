#pragma once

#include <doctest/doctest.h>

#include <algorithm>
#include <string>

#include "sim/flight/instruction_set.hpp"

// Calls use(set) for every set of packs that this machine can run, and says which ones it passes over.
template <class Use>
void each_pack(const Use& use) {
  using enum driftglow::flight::InstructionSet;
  const auto available = driftglow::flight::available_instruction_sets();
  for (const auto set : {baseline, avx2, avx512}) {
    const std::string name(driftglow::flight::name(set));
    CAPTURE(name);
    if (std::find(available.begin(), available.end(), set) == available.end()) {
      MESSAGE("skipped: this machine has no " << name);
    } else {
      use(set);
    }
  }
}
