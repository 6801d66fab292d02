#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <stop_token>
#include <vector>

#include "models/numeric/vec3.hpp"
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
// steps done since the last call. Tags that get lost leave the flight and are in ReplicateResult::lost.
// Throws InputError when the tags cannot be placed without overlap.
std::vector<ReplicateResult> fly_vessels(const Plan& plan, InstructionSet set, int first, int count,
                                         Timing& timing,
                                         const std::function<void(std::int64_t tag_steps)>& flown);

// A tag at the end of a step.
struct TagMoment {
  double time;                                          // s, from the end of warm-up
  numeric::Vec3<double> place, velocity, axis, spin_W;  // m, m/s, 1, rad/s
  double linkage;     // Wb (T for a plain threshold) peak, of the drive's field alone; NaN in the warm-up
  std::uint32_t lit;  // bit f: lit under fit f
  std::optional<Loss> loss;
};

// Flies one replicate as fly_vessels() does and shows one of its tags after every step, until it is lost.
// Nothing when stopped.
std::optional<ReplicateResult> fly_tag(const Plan& plan, InstructionSet set, int replicate, int tag,
                                       const std::function<void(const TagMoment&)>& each,
                                       const std::stop_token& stop);

}  // namespace driftglow::flight
