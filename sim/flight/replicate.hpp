#pragma once

#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"

namespace driftglow::flight {

// Flies one vessel with all its tags. A function of (plan, replicate) alone. Throws LogicError when a tag's
// state is no longer finite, InputError when the tags cannot be placed without overlap.
ReplicateResult fly_replicate(const Plan& plan, int replicate);

}  // namespace driftglow::flight
