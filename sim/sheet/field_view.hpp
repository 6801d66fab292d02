#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "models/safety/surface.hpp"
#include "sim/flight/plan.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::sheet {

// A drive coil by its plane.
struct CoilPlane {
  std::string name;
  Eigen::Vector3d centre;  // m
  Eigen::Vector3d axis;    // 1, unit
};

// What can only be said where the coils are known.
struct Sources {
  std::vector<CoilPlane> coils;
  safety::Enclosure enclosure;  // about vessel and coils
  safety::Symmetry symmetry;
  Eigen::Matrix3Xd moment;  // A m2 peak, columns as of FieldView::parts
};

// The drive's field as a function of place, whatever makes it; by the law of Biot and Savart also outside the
// map.
struct FieldView {
  // Flux density at p_W [T peak]: what is in phase, and a second column in quadrature where the field turns.
  std::function<Eigen::Matrix3Xd(const Eigen::Vector3d& p_W)> parts;
  std::optional<Sources> sources;
  std::optional<coil::Reach> known_in = std::nullopt;  // beyond it nothing is known; empty: known everywhere

  double rms(const Eigen::Vector3d& p_W) const;  // T
};

// Refers to the plan.
FieldView field_view(const scenario::Scenario& scenario, const flight::Plan& plan);
// Refers to the coils.
FieldView field_view(const scenario::Scenario& scenario, const maps::DrivenCoils& coils);

// Largest amplitude along any direction [as the columns' unit], and that direction.
struct Strongest {
  double amplitude;
  Eigen::Vector3d axis;
};
Strongest strongest(const Eigen::Matrix3Xd& parts);

// Amplitude of the flux density along a disc's axis, mean over the disc [T peak]: seven points, exact to the
// fifth degree (Abramowitz & Stegun 25.4.61 [abramowitz1964]). Radius [m] >= 0.
double mean_over_disc(const FieldView& field, const Eigen::Vector3d& centre, const Eigen::Vector3d& axis,
                      double radius);

}  // namespace driftglow::sheet
