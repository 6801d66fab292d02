#pragma once

#include "models/driver/operating_point.hpp"

// The drive of model.md section 8.
namespace driftglow::driver {

inline constexpr Surroundings room{293.15, 101325.0};

inline coil::SeriesCircuit worked_coils() {
  const coil::Winding w{0.200, 10.0, 1, {1.0e-3, 1.06e-3}, 1.5e-3};
  return coil::SeriesCircuit(
      {coil::wind(w, 0.080, coil::Sense::right_handed), coil::wind(w, 0.240, coil::Sense::right_handed)});
}

inline CurrentFedPushPull worked_driver() {
  return {14.0, 0.7, 20e-9, 0.0005, Chokes::ideal, 0.0, {}, {}, {}};
}

}  // namespace driftglow::driver
