#include "models/coil/volume_map.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>
#include <vector>

#include "models/coil/conductor_inductance.hpp"
#include "models/coil/uniform_draw.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using constant::pi;
using Eigen::Matrix3Xd;
using Eigen::Vector3d;

struct VolumeProbe {
  Vector3d p;
  bool inside;  // drawn evenly from the volume, not on its outer edge
  Matrix3Xd exact;
};

// Even in the volume, and as many on its wall and ends, where the wires are nearest and the map is worst.
std::vector<VolumeProbe> draw_probes(const FieldParts& field, Reach reach, std::uint64_t seed) {
  constexpr int count = 4000;
  UniformDraw draw(seed);
  std::vector<VolumeProbe> probes;
  for (int i = 0; i < count; ++i) {
    const bool inside = i % 2 == 0, on_wall = i % 8 != 1;
    const double r = reach.radius * (inside || !on_wall ? std::sqrt(draw()) : 1.0);
    const double angle = 2.0 * pi * draw(), share = draw();
    const double height = inside || on_wall ? share : std::round(share);
    const Vector3d p(r * std::cos(angle), r * std::sin(angle), reach.low + (reach.high - reach.low) * height);
    probes.push_back({p, inside, field(p)});
  }
  return probes;
}

// The field inside the cylinder r <= radius, and beyond it a continuation with three continuous derivatives
// from four points inside on the same ray (Whitney's reflection with Lagrange's weights).
Matrix3Xd continued(const FieldParts& field, double radius, const Vector3d& p) {
  const double r = std::hypot(p.x(), p.y()), beyond = r - radius;
  if (beyond <= 0.0) return field(p);
  constexpr std::array<double, 4> back{0.25, 0.5, 0.75, 1.0};
  constexpr std::array<double, 4> weight{56.0, -140.0, 120.0, -35.0};
  Matrix3Xd sum;
  for (int i = 0; i < 4; ++i) {
    const double shrink = (radius - back[i] * beyond) / r;
    const Matrix3Xd part = weight[i] * field({shrink * p.x(), shrink * p.y(), p.z()});
    sum = i == 0 ? part : Matrix3Xd(sum + part);
  }
  return sum;
}

numeric::UniformAxis axis_over(double low, double high, double step) {
  const int nodes = std::max(5, static_cast<int>(std::ceil((high - low) / step - 1e-9)) + 1);
  return {low, (high - low) / (nodes - 1), nodes};
}

}  // namespace

VolumeMap::VolumeMap(const std::array<numeric::UniformAxis, 3>& axes, int parts, std::vector<double> values,
                     double error, double rms_flux_density)
    : spline_(axes, parts, values), values_(std::move(values)), error_(error), rms_(rms_flux_density) {
  if (parts < 1 || parts > 2) throw LogicError("a volume map has one part or two");
}

double VolumeMap::reference(double flux_density) const {
  return std::fmax(flux_density, 0.01 * rms_);
}

Matrix3Xd VolumeMap::field(const Vector3d& p_W) const {
  const auto cell = spline_.locate(numeric::Vec3<double>{p_W.x(), p_W.y(), p_W.z()});
  Matrix3Xd B(3, parts());
  const auto take = [&](const auto& values) {
    for (int k = 0; k < parts(); ++k) B.col(k) << values[k].x, values[k].y, values[k].z;
  };
  if (parts() == 1) {
    numeric::Vec3<double> values[1];
    spline_.values(cell, values);
    take(values);
  } else {
    numeric::Vec3<double> values[2];
    spline_.values(cell, values);
    take(values);
  }
  return B;
}

VolumeMap VolumeMap::computed(const FieldParts& field, int parts, Reach covered, Reach reach,
                              std::uint64_t seed, double wanted_error, std::size_t bytes) {
  if (parts < 1 || parts > 2) throw LogicError("a volume map has one part or two");
  if (!(reach.radius > 0.0 && reach.low < reach.high && reach.radius <= covered.radius &&
        covered.low <= reach.low && reach.high <= covered.high))
    throw LogicError("the tags' reach is not inside what the volume map covers");
  const auto probes = draw_probes(field, reach, seed);
  VolumeMap map;
  double sum = 0.0, count = 0.0;
  for (const auto& probe : probes) {
    if (!probe.inside) continue;
    sum += probe.exact.squaredNorm();
    count += 1.0;
  }
  map.rms_ = std::sqrt(sum / count);

  const auto axes_of = [&](double step) {
    const auto across_vessel = axis_over(-covered.radius, covered.radius, step);
    return std::array<numeric::UniformAxis, 3>{across_vessel, across_vessel,
                                               axis_over(covered.low, covered.high, step)};
  };
  // The finest step, no finer than `step`, whose tables keep the cap.
  const auto kept_small = [&](double step) {
    while (numeric::BsplineVolume::bytes_of(axes_of(step), parts) > bytes && step < covered.radius)
      step *= 1.02;
    return step;
  };
  auto& values = map.values_;
  double step = kept_small(std::fmin(covered.radius, covered.high - covered.low) / 8.0);
  for (;;) {
    const auto axes = axes_of(step);
    values.clear();
    values.reserve(static_cast<std::size_t>(axes[0].nodes) * axes[1].nodes * axes[2].nodes * 3 * parts);
    for (int i = 0; i < axes[0].nodes; ++i) {
      for (int j = 0; j < axes[1].nodes; ++j) {
        for (int l = 0; l < axes[2].nodes; ++l) {
          const Matrix3Xd B = continued(field, covered.radius, {axes[0].at(i), axes[1].at(j), axes[2].at(l)});
          values.insert(values.end(), B.data(), B.data() + B.size());
        }
      }
    }
    map.spline_ = numeric::BsplineVolume(axes, parts, values);
    map.error_ = 0.0;
    for (const auto& probe : probes)
      map.error_ = std::fmax(map.error_,
                             (map.field(probe.p) - probe.exact).norm() / map.reference(probe.exact.norm()));
    if (map.error_ <= wanted_error) return map;
    // The error goes with the fourth power of the step; a little finer, so that the next grid is the last.
    const double finer = std::fmin(std::fmax(0.93 * std::pow(wanted_error / map.error_, 0.25), 0.45), 0.93);
    const double next = kept_small(finer * step);
    if (next > 0.96 * step) return map;
    step = next;
  }
}

VolumeMap VolumeMap::computed(const CoilSystem& system, const Eigen::MatrixXd& currents, Reach covered,
                              Reach reach, std::uint64_t seed, double wanted_error, std::size_t bytes) {
  for (int k = 0; k < system.conductors(); ++k) {
    if (enters(system.path(k), covered))
      throw InputError(
          "a coil or metal conductor runs through the space where the tags fly; place it outside the vessel");
  }
  return computed([&](const Vector3d& p) -> Matrix3Xd { return system.fields(p) * currents; },
                  static_cast<int>(currents.cols()), covered, reach, seed, wanted_error, bytes);
}

}  // namespace driftglow::coil
