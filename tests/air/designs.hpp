#pragma once

#include <string>
#include <utility>
#include <vector>

#include "models/air/column.hpp"

// Vessel of 190 x 320 mm with a lively flow, and its variants with every feature of a column.
inline driftglow::air::ColumnAir plain_design() {
  return {.radius = 0.095,
          .height = 0.32,
          .flow = 0.07,
          .kinematic_viscosity = 1.506e-5,
          .profile_exponent = 4.0,
          .circulation = 1.2,
          .side_vents = {},
          .lid_opening = {},
          .swirl_speed = 0.4,
          .fin_swirl_factor = 1.0,
          .swirl_core_radius = 0.03,
          .swirl_wall_exponent = 8.0,
          .swirl_decay = {},
          .turbulence_intensity = 0.1,
          .turbulence_floor = 0.01,
          .length_scale = {}};
}

inline std::vector<std::pair<std::string, driftglow::air::ColumnAir>> test_designs() {
  using driftglow::air::LidOpening;
  using driftglow::air::SideVents;
  auto hole = plain_design();
  hole.lid_opening = LidOpening{0.0, 0.05};
  hole.side_vents = SideVents{0.2, 0.3};
  hole.fin_swirl_factor = 0.5;
  auto ring = plain_design();
  ring.lid_opening = LidOpening{0.04, 0.08};
  ring.profile_exponent = 1.5;
  ring.circulation = -0.6;
  ring.swirl_wall_exponent = 2.0;
  auto calm = plain_design();
  calm.turbulence_floor = 0.0;
  calm.profile_exponent = 9.0;
  calm.circulation = 0.0;
  calm.swirl_core_radius = 0.2;
  return {{"plain", plain_design()}, {"hole and vents", hole}, {"ring", ring}, {"no turbulence floor", calm}};
}
