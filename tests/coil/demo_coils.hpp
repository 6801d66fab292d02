#pragma once

#include <vector>

#include "models/coil/coil_map.hpp"
#include "models/coil/winding.hpp"

// A vessel with coils well outside it, like the demo's, and a hard one: few turns of wire on the vessel's
// wall.
namespace driftglow::coil {

inline constexpr MapExtent demo_extent{0.095, 0.320};
inline constexpr Reach demo_reach{0.080, 0.015, 0.305};

inline std::vector<Turn> demo_turns(Sense upper) {
  const Winding w{0.240, 12.0, 1, {1.0e-3, 1.06e-3}, 2.0e-3};
  const WoundCoil coils[] = {wind(w, 0.080, Sense::right_handed), wind(w, 0.240, upper)};
  return all_turns(coils);
}

inline std::vector<Turn> hard_turns() {
  const Winding w{0.194, 4.0, 1, {1.0e-3, 1.06e-3}, 2.0e-3};
  const WoundCoil coils[] = {wind(w, 0.060, Sense::right_handed), wind(w, 0.180, Sense::right_handed)};
  return all_turns(coils);
}

}  // namespace driftglow::coil
