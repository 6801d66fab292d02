#pragma once

#include "sim/flight/plan.hpp"

namespace driftglow::flight {

// Where a tag is `time` [s] after it was let go at rest at p_W [m] with its axis along n_W, alone in the mean
// air of `map` without gusts or precession: by the flight's own step and contact, in double precision. The
// vessel is the map's. design.solid() must hold.
numeric::Vec3<double> calm_end(const Plan& plan, const DesignPlan& design, const air::AirMap& map,
                               const numeric::Vec3<double>& p_W, const numeric::Vec3<double>& n_W,
                               double time);

}  // namespace driftglow::flight
