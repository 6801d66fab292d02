#pragma once

#include <Eigen/Core>
#include <random>

#include "models/coil/winding.hpp"
#include "models/coupling/pair.hpp"
#include "models/receiver/tank.hpp"

// The tag of model.md section 8, its LED invented.
namespace driftglow::coupling::example {

inline constexpr double omega = 2.0 * 3.14159265358979323846 * 117.72e3;
inline constexpr double inductance = 39.22e-6, Q = 9.3, body_radius = 0.018;

inline coil::WoundCoil receiver_coil() {
  return coil::wind({0.030, 23.0, 3, {0.125e-3, 0.149e-3}, 0.16e-3}, 0.0, coil::Sense::right_handed);
}

inline receiver::TankDesign tank() {
  return {inductance, 3.13, 47e-9, 0.0, 40e-12, receiver::LedLaw({1.93, 5e-20, 9.0, 293.15, {25.0, 50e-9}})};
}

// Uniform over the sphere.
inline Eigen::Vector3d direction(std::mt19937_64& engine) {
  std::normal_distribution<double> normal;
  return Eigen::Vector3d(normal(engine), normal(engine), normal(engine)).normalized();
}

}  // namespace driftglow::coupling::example
