#include "models/coil/conductor_path.hpp"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>

#include "models/coil/inductance.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using constant::mu_0;
using constant::pi;
using Eigen::Vector3d;

// Double-double arithmetic after Dekker 1971 and Knuth [dekker1971]; relative error some 1e-31.
TwoPart sum_of(double a, double b) {
  const double s = a + b, part = s - a;
  return {s, (a - (s - part)) + (b - part)};
}
TwoPart product_of(double a, double b) {
  const double p = a * b;
  return {p, std::fma(a, b, -p)};
}
TwoPart operator+(TwoPart a, TwoPart b) {
  const TwoPart s = sum_of(a.high, b.high);
  return sum_of(s.high, s.low + (a.low + b.low));
}
TwoPart operator-(TwoPart a) {
  return {-a.high, -a.low};
}
TwoPart operator*(TwoPart a, TwoPart b) {
  const TwoPart p = product_of(a.high, b.high);
  return sum_of(p.high, p.low + (a.high * b.low + a.low * b.high));
}
TwoPart root_of(TwoPart square) {
  const double root = std::sqrt(square.high);
  if (root == 0.0) return {0.0, 0.0};
  const TwoPart rest = square + -product_of(root, root);
  return sum_of(root, rest.high / (2.0 * root));
}

struct TurnPlace {
  double rho, zeta, inward;
};
TurnPlace place_of(const Turn& turn, const OwnPlace& at) {
  return {at.rho.high, (at.zeta.high - turn.height) + at.zeta.low, (turn.radius - at.rho.high) - at.rho.low};
}

double distance_to(const TurnPath& path, const Vector3d& p_W) {
  const OwnPlace at = path.placement.locate(p_W);
  double least = HUGE_VAL;
  for (const auto& turn : path.turns) {
    const TurnPlace own = place_of(turn, at);
    least = std::fmin(least, std::hypot(own.inward, own.zeta));
  }
  return least;
}

double distance_to(const RodPath& path, const Vector3d& p_W) {
  double least = HUGE_VAL;
  for (std::size_t i = 0; i < path.rods(); ++i) {
    const Vector3d along = path.end(i) - path.begin(i);
    const double share = (p_W - path.begin(i)).dot(along) / along.squaredNorm();
    least = std::fmin(least, (path.begin(i) + std::fmin(std::fmax(share, 0.0), 1.0) * along - p_W).norm());
  }
  return least;
}

}  // namespace

Placement::Placement(const Vector3d& centre, const Vector3d& axis) : centre_(centre) {
  if (!centre.allFinite() || !axis.allFinite() || !(axis.norm() > 0.0))
    throw InputError(
        "a coil's axis is a direction with a length, and its centre a place; one of them is not");
  // By a power of two, which rounds nothing: no overflow in the squares.
  const Vector3d scaled = axis * std::ldexp(1.0, -std::ilogb(axis.cwiseAbs().maxCoeff()));
  TwoPart square{0.0, 0.0};
  for (int i = 0; i < 3; ++i) square = square + product_of(scaled[i], scaled[i]);
  const TwoPart length = root_of(square);
  for (int i = 0; i < 3; ++i) {
    axis_[i] = scaled[i] / length.high;
    const TwoPart rest = TwoPart{scaled[i], 0.0} + -(TwoPart{axis_[i], 0.0} * length);
    axis_low_[i] = rest.high / length.high;
  }
}

OwnPlace Placement::locate(const Vector3d& p_W) const {
  TwoPart from_centre[3], zeta{0.0, 0.0}, square{0.0, 0.0};
  for (int i = 0; i < 3; ++i) {
    from_centre[i] = sum_of(p_W[i], -centre_[i]);
    zeta = zeta + from_centre[i] * TwoPart{axis_[i], axis_low_[i]};
  }
  OwnPlace at;
  for (int i = 0; i < 3; ++i) {
    const TwoPart component = from_centre[i] + -(zeta * TwoPart{axis_[i], axis_low_[i]});
    square = square + component * component;
    at.outward[i] = component.high;
  }
  at.rho = root_of(square);
  at.zeta = zeta;
  return at;
}

std::vector<RodPath> cage_meshes(double radius, double low, double high, int rods) {
  if (!(radius > 0.0 && low < high) || rods < 2)
    throw InputError("a cage has at least two rods, a radius greater than zero, and its top above its floor");
  const int pieces = std::max(2, 48 / rods);  // of a ring from rod to rod
  const auto corner = [&](int i, double z) {
    const double angle = 2.0 * pi * (i % (rods * pieces)) / (rods * pieces);
    return Vector3d(radius * std::cos(angle), radius * std::sin(angle), z);
  };
  std::vector<RodPath> meshes(rods + 1);
  for (int rod = 0; rod < rods; ++rod) {
    for (int i = 0; i <= pieces; ++i) meshes[rod].corners.push_back(corner(rod * pieces + i, low));
    for (int i = pieces; i >= 0; --i) meshes[rod].corners.push_back(corner(rod * pieces + i, high));
  }
  for (int i = 0; i < rods * pieces; ++i) meshes[rods].corners.push_back(corner(i, high));
  return meshes;
}

Across across(const Vector3d& axis) {
  const Vector3d first = axis.unitOrthogonal();
  return {first, axis.cross(first)};
}

Vector3d field_of(const TurnPath& path, const Vector3d& p_W) {
  const OwnPlace at = path.placement.locate(p_W);
  MeridianFieldOverRadius sum{0.0, 0.0};
  for (const auto& turn : path.turns) {
    const TurnPlace own = place_of(turn, at);
    const auto field = turn_field_over_radius(turn.radius, own.rho, own.zeta, own.inward);
    sum.radial_over_rho += turn.weight * field.radial_over_rho;
    sum.axial += turn.weight * field.axial;
  }
  return sum.radial_over_rho * at.outward + sum.axial * path.placement.axis();
}

Vector3d field_of(const RodPath& path, const Vector3d& p_W) {
  Vector3d sum = Vector3d::Zero();
  for (std::size_t i = 0; i < path.rods(); ++i) {
    const Vector3d from_begin = p_W - path.begin(i), from_end = p_W - path.end(i);
    const double r1 = from_begin.norm(), r2 = from_end.norm();
    sum += (r1 + r2) / (r1 * r2 * (r1 * r2 + from_begin.dot(from_end))) * from_begin.cross(from_end);
  }
  return mu_0 / (4.0 * pi) * sum;
}

Vector3d field_of(const ConductorPath& path, const Vector3d& p_W) {
  return std::visit([&](const auto& own) { return field_of(own, p_W); }, path);
}

Vector3d vector_potential_of(const TurnPath& path, const Vector3d& p_W) {
  const OwnPlace at = path.placement.locate(p_W);
  double sum = 0.0;
  for (const auto& turn : path.turns) {
    const TurnPlace own = place_of(turn, at);
    sum += turn.weight * vector_potential_over_radius(turn.radius, own.rho, own.zeta, own.inward);
  }
  return sum * path.placement.axis().cross(at.outward);
}

double rod_potential(const Vector3d& begin, const Vector3d& end, const Vector3d& p_W) {
  const double length = (end - begin).norm(), r1 = (p_W - begin).norm(), r2 = (p_W - end).norm();
  // r1 + r2 - length from the nearer end, where it would cancel: r_far^2 = length^2 + r_near^2 + 2
  // (p - near).(near - far).
  const Vector3d& near = r1 < r2 ? begin : end;
  const Vector3d& far = r1 < r2 ? end : begin;
  const double r_near = std::fmin(r1, r2), r_far = std::fmax(r1, r2);
  const double excess = r_near + (r_near * r_near + 2.0 * (p_W - near).dot(near - far)) / (r_far + length);
  return 0.5 * std::log((r1 + r2 + length) / excess);
}

Vector3d vector_potential_of(const RodPath& path, const Vector3d& p_W) {
  Vector3d sum = Vector3d::Zero();
  for (std::size_t i = 0; i < path.rods(); ++i)
    sum += rod_potential(path.begin(i), path.end(i), p_W) * (path.end(i) - path.begin(i)).normalized();
  return mu_0 / (2.0 * pi) * sum;
}

Vector3d vector_potential_of(const ConductorPath& path, const Vector3d& p_W) {
  return std::visit([&](const auto& own) { return vector_potential_of(own, p_W); }, path);
}

double distance_to(const ConductorPath& path, const Vector3d& p_W) {
  return std::visit([&](const auto& own) { return distance_to(own, p_W); }, path);
}

}  // namespace driftglow::coil
