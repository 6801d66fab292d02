#pragma once

#include <Eigen/Core>
#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

#include "models/coil/coil_map.hpp"
#include "models/coil/coil_system.hpp"
#include "models/numeric/bspline_volume.hpp"

namespace driftglow::coil {

// Flux density [T, or T/A] of every part (in phase, quadrature; or one a circuit) at p_W: one column each.
using FieldParts = std::function<Eigen::Matrix3Xd(const Eigen::Vector3d& p_W)>;

// Flux density of coils without axial symmetry as a spline map on (x, y, z). Const after construction.
class VolumeMap {
 public:
  // Largest size of the tables.
  static constexpr std::size_t most_bytes = std::size_t{64} << 20;

  // Computes the field of `parts` vectors on a grid over `covered`, a cylinder about the vessel's axis from
  // which tags read (their reach and their coil's radius about it), and refines it until the largest error
  // at random probe points in `reach` is at most `wanted_error` of |B|, all parts together, or the next
  // table would have more than `bytes`: error() says what was reached. Where |B| is below 1 % of its rms over
  // the reach that hundredth stands for it. Nodes in the corners outside the cylinder, where wires may run,
  // take a smooth continuation of the field inside. Throws LogicError for an empty or wrong reach. Same seed,
  // same map.
  static VolumeMap computed(const FieldParts& field, int parts, Reach covered, Reach reach,
                            std::uint64_t seed, double wanted_error = 1e-4, std::size_t bytes = most_bytes);

  // Of a coil system, parts by their currents: real weights [A], conductors x parts (current_parts()). Throws
  // InputError when a wire enters `covered`.
  static VolumeMap computed(const CoilSystem& system, const Eigen::MatrixXd& currents, Reach covered,
                            Reach reach, std::uint64_t seed, double wanted_error = 1e-4,
                            std::size_t bytes = most_bytes);

  // From stored node values, [x][y][z][part][component]. Throws LogicError when they do not fit.
  VolumeMap(const std::array<numeric::UniformAxis, 3>& axes, int parts, std::vector<double> values,
            double error, double rms_flux_density);

  int parts() const { return spline_.vectors(); }
  const std::array<numeric::UniformAxis, 3>& axes() const { return spline_.axes(); }
  const std::vector<double>& values() const { return values_; }  // at the nodes
  const numeric::BsplineVolume& spline() const { return spline_; }
  double error() const { return error_; }           // 1, of |B| in the reach, the largest found
  double rms_flux_density() const { return rms_; }  // T or T/A, over the reach's volume

  // |B| that a relative error refers to: |B| itself, or its floor near a null.
  double reference(double flux_density) const;

  // All parts at p_W, one column each.
  Eigen::Matrix3Xd field(const Eigen::Vector3d& p_W) const;

 private:
  VolumeMap() = default;

  numeric::BsplineVolume spline_;
  std::vector<double> values_;
  double error_ = 0.0;
  double rms_ = 0.0;
};

}  // namespace driftglow::coil
