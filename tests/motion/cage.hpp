#pragma once

#include "models/motion/body.hpp"

// An open frame of 15 mm and 0.42 g that drags twice as much along its axis as across it.
inline driftglow::motion::Body cage() {
  using namespace driftglow::motion;
  return {.radius = 0.015,
          .mass = 0.42e-3,
          .inertia = 0.5,
          .centre_offset = 0.0,
          .displaced_volume = 0.0,
          .restitution = 0.5,
          .friction = 0.3,
          .rolling_resistance = 0.02,
          .wall_lift = WallLift::on,
          .drag_law = DragLaw::fixed,
          .area_along = 4e-4,
          .area_across = 2e-4};
}
