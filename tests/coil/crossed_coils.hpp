#pragma once

#include <Eigen/Core>
#include <complex>
#include <random>

#include "models/coil/coil_system.hpp"
#include "models/constants.hpp"

// A vessel inside two pairs of coils, the pairs' axes tilted by 45 degrees to either side and so at right
// angles to each other: circuits 1 and 2.
namespace driftglow::coil {

inline constexpr Reach crossed_reach{0.060, 0.060, 0.180};
inline constexpr Reach crossed_covered{0.075, 0.045, 0.195};
inline const Eigen::Vector3d crossed_centre{0.0, 0.0, 0.12};

inline CoilSystem crossed_coils(std::vector<ShortedTurn> metal = {}) {
  std::vector<PlacedCoil> coils;
  for (const double tilt : {1.0, -1.0}) {
    const Eigen::Vector3d axis = Eigen::Vector3d(tilt, 0.0, 1.0).normalized();
    // The second pair is wider, so that its wires pass outside those of the first.
    const double diameter = tilt > 0.0 ? 0.400 : 0.436;
    for (const double side : {-0.5, 0.5})
      coils.push_back({wind({diameter, 8.0, 1, {1e-3, 1.06e-3}, 2e-3}, 0.0, Sense::right_handed),
                       Placement(crossed_centre + side * 0.5 * diameter * axis, axis)});
  }
  return CoilSystem(std::move(coils), {{Connection::series, {0, 1}}, {Connection::series, {2, 3}}},
                    std::move(metal));
}

inline Eigen::Vector3d random_in(Reach reach, std::mt19937_64& engine) {
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  const double r = reach.radius * std::sqrt(uniform(engine)), angle = 2.0 * constant::pi * uniform(engine);
  return {r * std::cos(angle), r * std::sin(angle), reach.low + (reach.high - reach.low) * uniform(engine)};
}

inline Eigen::Vector3d random_direction(std::mt19937_64& engine) {
  std::normal_distribution<double> normal;
  return Eigen::Vector3d(normal(engine), normal(engine), normal(engine)).normalized();
}

}  // namespace driftglow::coil
