#include "models/coupling/pair.hpp"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>

#include "models/coil/inductance.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coupling {
namespace {

using constant::mu_0;
using constant::pi;

// A circle's points in the frame of another coil whose axis is its z.
class CircleInFrame {
 public:
  CircleInFrame(const Pose& frame, const Pose& circle, double radius) : radius_(radius) {
    Eigen::Matrix3d rows;
    rows.row(0) = frame.axis.unitOrthogonal();
    rows.row(2) = frame.axis;
    rows.row(1) = frame.axis.cross(rows.row(0).transpose()).transpose();
    centre_ = rows * (circle.centre - frame.centre);
    const Eigen::Vector3d first = circle.axis.unitOrthogonal();
    first_ = rows * first;
    second_ = rows * circle.axis.cross(first);
  }
  Eigen::Vector3d place(double angle) const {
    return centre_ + radius_ * (std::cos(angle) * first_ + std::sin(angle) * second_);
  }
  // By the angle.
  Eigen::Vector3d tangent(double angle) const {
    return radius_ * (std::cos(angle) * second_ - std::sin(angle) * first_);
  }

 private:
  double radius_;
  Eigen::Vector3d centre_, first_, second_;
};

Pose along(const Pose& pose, double height) {
  return {pose.centre + height * pose.axis, pose.axis};
}

// Closest approach of the second circle to the first, looked up at `points` places.
double approach(double radius_a, const Pose& a, double radius_b, const Pose& b, int points) {
  const CircleInFrame circle(a, b, radius_b);
  double closest = std::numeric_limits<double>::infinity();
  for (int i = 0; i < points; ++i) {
    const auto p = circle.place(2.0 * pi * i / points);
    closest = std::min(closest, std::hypot(std::hypot(p.x(), p.y()) - radius_a, p.z()));
  }
  return closest;
}

// F_a of the header, for c_a, c_b, g.
double second_derivative(double a, double b, double g) {
  return 105.0 * a * a * a * b - 45.0 * a * b - 45.0 * a * a * g + 9.0 * g;
}

}  // namespace

double mutual_inductance(double radius_a, const Pose& a, double radius_b, const Pose& b, int points) {
  if (!(radius_a > 0.0) || !(radius_b > 0.0))
    throw LogicError("mutual inductance of a circle without radius");
  const CircleInFrame circle(a, b, radius_b);
  double sum = 0.0;
  for (int i = 0; i < points; ++i) {
    const double angle = 2.0 * pi * i / points;
    const auto p = circle.place(angle), t = circle.tangent(angle);
    // On the axis A_phi/rho is finite: take it a millionth of the radius beside it, where it is the same to
    // 1e-12.
    const double rho = std::max(std::hypot(p.x(), p.y()), 1e-6 * radius_a);
    sum += coil::mutual_inductance(radius_a, rho, p.z()) / (rho * rho) * (p.x() * t.y() - p.y() * t.x());
  }
  return sum / points;
}

double mutual_inductance(std::span<const coil::Turn> a, const Pose& pose_a, std::span<const coil::Turn> b,
                         const Pose& pose_b) {
  double sum = 0.0;
  for (const auto& first : a) {
    const Pose at = along(pose_a, first.height);
    for (const auto& second : b) {
      const Pose to = along(pose_b, second.height);
      const double closest = approach(first.radius, at, second.radius, to, 64);
      const double needed = 40.0 * second.radius / closest;
      const int points = std::clamp(static_cast<int>(std::fmin(needed, 1e4)), 32, 1024);
      sum += first.weight * second.weight * mutual_inductance(first.radius, at, second.radius, to, points);
    }
  }
  return sum;
}

double pair_mutual_inductance(const coil::FluxMoments& a, const Pose& pose_a, const coil::FluxMoments& b,
                              const Pose& pose_b) {
  const Pose at = along(pose_a, a.centre_offset), to = along(pose_b, b.centre_offset);
  const Eigen::Vector3d line = to.centre - at.centre;
  const double square = line.squaredNorm(), distance = std::sqrt(square);
  if (distance < 0.5 * far_ratio * (a.disc_radius + b.disc_radius)) {
    const auto turns = [](const coil::FluxMoments& m) {
      return m.area_turns / (pi * m.disc_radius * m.disc_radius);
    };
    const double approach = std::fmax(distance - a.disc_radius - b.disc_radius, 0.0);
    const int points = static_cast<int>(std::clamp(8.0 * b.disc_radius / approach, 16.0, 64.0));
    return turns(a) * turns(b) * mutual_inductance(a.disc_radius, at, b.disc_radius, to, points);
  }
  const double ca = at.axis.dot(line) / distance, cb = to.axis.dot(line) / distance, g = at.axis.dot(to.axis);
  const double bracket = 3.0 * ca * cb - g +
                         (a.curvature / a.area_turns * second_derivative(ca, cb, g) +
                          b.curvature / b.area_turns * second_derivative(cb, ca, g)) /
                             square;
  return mu_0 * a.area_turns * b.area_turns / (4.0 * pi * square * distance) * bracket;
}

}  // namespace driftglow::coupling
