#pragma once

#include <vector>

#include "models/coil/winding.hpp"

namespace driftglow::coil {

// A tag's receiver.
inline std::vector<Turn> tag_turns() {
  return wind({0.024, 6.0, 2, {0.2e-3, 0.226e-3}, 0.3e-3}, 0.0, Sense::right_handed).turns;
}

}  // namespace driftglow::coil
