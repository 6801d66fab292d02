#pragma once

#include "models/air/operating_point.hpp"
#include "models/swirl_flow/vessel.hpp"

// Vessels that several tests blow through.
namespace driftglow::test {

// 190 x 320 mm over a 120 mm fan that turns no air, a side gap of 20 mm under a closed lid.
inline swirl_flow::VesselGeometry straight_vessel() {
  return {.radius = 0.095,
          .height = 0.32,
          .inlet_height = 0.06,
          .fan = {.radius = 0.06,
                  .hub_radius = 0.025,
                  .swirl = swirl_flow::FanSwirl::none,
                  .swirl_angle = 0.0,
                  .angular_speed = 0.0,
                  .efficiency = 0.0,
                  .guard_loss = 0.5},
          .mesh_loss = 1.0,
          .fins = {},
          .side_gap = 0.02,
          .side_gap_discharge = 0.61,
          .lid_vent = {},
          .tag_weight = 0.05,
          .density = 1.204,
          .dynamic_viscosity = 1.82e-5};
}

inline swirl_flow::VesselGeometry swirling_vessel(double angle) {
  auto vessel = straight_vessel();
  vessel.fan.swirl = swirl_flow::FanSwirl::angle;
  vessel.fan.swirl_angle = angle;
  return vessel;
}

inline air::FanCurve some_fan() {
  return {"a fan", {{0.0, 60.0}, {0.02, 40.0}, {0.045, 0.0}}};
}

}  // namespace driftglow::test
