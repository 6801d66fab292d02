#pragma once

#include <Eigen/Core>
#include <vector>

#include "models/coil/flux_linkage.hpp"
#include "models/driver/tag_load.hpp"
#include "sim/flight/plan.hpp"

// How the tags of a plan load its drive, as the mean over all places and directions that they can take.
namespace driftglow::flight {

// A place in the tags' reach [m] and an axis.
struct Sample {
  Eigen::Vector3d place, axis;
};

// Evenly spread in volume and in direction, by a number from 1 on: Halton 1960, van der Corput's radical
// inverse in several prime bases at once.
Sample sample(const coil::Reach& reach, int number);

// Linkage amplitude [Wb; T of a plain threshold] of a design as the flight has it.
double linkage(const Plan& plan, const DesignPlan& design, const Sample& at);

enum class Lighting { unlit, lit };

// The tags that carry a circuit, as one of the drive's circuits meets them: a design and what it carries each
// a group, 512 places each, enough for a mean that the tags' own places make uncertain by far more. `unlit`
// as linear tanks, the most that they take; `lit` by the nominal glow curves. Several circuits: each by the
// field at the receiver's centre, and by itself.
std::vector<driver::TagGroup> tag_groups(const Plan& plan, const coil::Reach& reach, int circuit,
                                         Lighting lighting);

}  // namespace driftglow::flight
