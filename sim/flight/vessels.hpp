#pragma once

#include <functional>
#include <vector>

#include "sim/flight/instruction_set.hpp"
#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"

namespace driftglow::flight {

// CPU time of the calling thread [s]; for the log, never in results.
struct Timing {
  double build;   // placing the tags and making their tables
  double flight;  // the steps
};

// How many vessels an instruction set flies side by side at the cost of one.
int lanes_of(InstructionSet set);

// Flies the replicates first, ..., first + count - 1 side by side, each a whole vessel with all its tags;
// count in 1..lanes_of(set). A replicate's result depends on the plan and its number, neither on its lane nor
// on the others; the scalar set differs from the packs by rounding. flown: called now and then with the tag
// steps done since the last call. Throws LogicError when a tag's state is no longer finite, InputError when
// the tags cannot be placed without overlap.
std::vector<ReplicateResult> fly_vessels(const Plan& plan, InstructionSet set, int first, int count,
                                         Timing& timing,
                                         const std::function<void(std::int64_t tag_steps)>& flown);

}  // namespace driftglow::flight
