#pragma once

#include <vector>

#include "models/motion/advance.hpp"
#include "sim/flight/built_tag.hpp"
#include "sim/flight/plan.hpp"

namespace driftglow::flight {

// A tag as it stands at the beginning of a replicate.
struct StartedTag {
  motion::TagState<double> state;
  std::vector<BuiltFit> fits;
};

// All tags of a vessel: built with their tolerances and for the replicate's drive, placed without overlap. A
// function of (plan, replicate) alone. Throws InputError when the tags cannot be placed.
std::vector<StartedTag> start_vessel(const Plan& plan, int replicate, const DriveDraw& drive);

}  // namespace driftglow::flight
