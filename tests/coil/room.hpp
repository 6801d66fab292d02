#pragma once

#include "models/coil/coil_system.hpp"

namespace driftglow::coil {

inline constexpr double room = 293.15;  // K
inline constexpr Temperatures both_at_room{room, room};

}  // namespace driftglow::coil
