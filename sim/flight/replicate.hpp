#pragma once

#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"

namespace driftglow::flight {

// CPU time of the calling thread [s]; for the log, never in results.
struct Timing {
  double build;   // drawing the tags and solving their glow curves
  double flight;  // the steps
};

// Flies one vessel with all its tags. A function of (plan, replicate) alone. Throws LogicError when a tag's
// state is no longer finite, InputError when the tags cannot be placed without overlap.
ReplicateResult fly_replicate(const Plan& plan, int replicate, Timing& timing);

}  // namespace driftglow::flight
