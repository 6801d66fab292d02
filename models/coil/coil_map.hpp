#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <span>

#include "models/coil/winding.hpp"
#include "models/numeric/bspline_map.hpp"

namespace driftglow::coil {

// What the map covers: r in [0, radius], z in [0, height] [m].
struct MapExtent {
  double radius;
  double height;
};

// Where the tags' centres can be [m]; in a tapered vessel its radius changes by `slope` a height, and
// `radius` is the larger end's.
struct Reach {
  double radius;
  double low;
  double high;
  double slope = 0.0;
};

// Flux density per ampere of coaxial turns as a spline map on (r, z), z from the floor up: channels P = B_r/r
// [T/(A m)] and B_z [T/A], both even in r, so that nothing divides by r. Const after construction.
class CoilMap {
 public:
  // Computes the field and refines the grid until the largest error at random probe points inside the reach
  // is at most `wanted_error` of |B| there, or the grid has its largest size (2 million nodes): error() says
  // what was reached. The default is five times finer than the 1e-4 that is promised, because the flux over a
  // disc uses second derivatives. Where |B| is below 1 % of its rms over the reach (a null between opposed
  // coils) that hundredth stands for it. Throws InputError when a turn's centre line lies inside the covered
  // cylinder, LogicError for an empty extent or a reach outside it. Same seed, same map.
  static CoilMap computed(std::span<const Turn> turns, MapExtent extent, Reach reach, std::uint64_t seed,
                          double wanted_error = 2e-5);

  // From stored node values: rows r, columns z; r from 0. Throws LogicError when they do not fit.
  CoilMap(numeric::UniformAxis r, numeric::UniformAxis z, Eigen::MatrixXd radial_over_r,
          Eigen::MatrixXd axial, double error, double rms_flux_density);

  const numeric::UniformAxis& r() const { return spline_.x(); }
  const numeric::UniformAxis& z() const { return spline_.y(); }
  const Eigen::MatrixXd& radial_over_r() const { return values_[0]; }  // T/(A m)
  const Eigen::MatrixXd& axial() const { return values_[1]; }          // T/A
  double error() const { return error_; }           // 1, of |B| in the reach, the largest found
  double rms_flux_density() const { return rms_; }  // T/A, over the reach's volume

  // |B| per ampere [T/A] that a relative error refers to: |B| itself, or its floor near a null.
  double reference(double flux_density) const;

  template <class T>
  struct Jets {
    numeric::Jet<T> radial_over_r, axial;
  };

  // Value and derivatives at (r, z); r >= 0. Outside the grid: extrapolated from its edge.
  template <class T>
  Jets<T> jets(T r, T z) const {
    const auto stencil = spline_.stencil(spline_.locate(r, z));
    numeric::Jet<T> both[2];
    spline_.jets(stencil, both);
    return {both[0], both[1]};
  }

  // Field at (r, z) [T/(A m), T/A].
  template <class T>
  struct Field {
    T radial_over_r, axial;
  };
  template <class T>
  Field<T> field(T r, T z) const {
    const auto both = jets(r, z);
    return {both.radial_over_r.f, both.axial.f};
  }

 private:
  numeric::BsplineMap spline_;
  Eigen::MatrixXd values_[2];
  double error_;
  double rms_;
};

}  // namespace driftglow::coil
