#pragma once

#include "models/air/column.hpp"
#include "models/air/turbulence.hpp"
#include "models/air/wall_shape.hpp"
#include "models/numeric/bspline_map.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::air {

// The air at one place, vessel frame.
template <class T>
struct AirSample {
  numeric::Vec3<T> u_W;           // m/s, mean velocity
  numeric::Vec3<T> curl_W;        // 1/s, of the mean velocity
  T sigma;                        // m/s, std of each component of the turbulent velocity, >= 0
  numeric::Vec3<T> grad_sigma_W;  // 1/s, the exact gradient of `sigma` as interpolated
  T inverse_lagrangian_time;      // 1/s, >= 0; 0 without turbulence
  T epsilon_cbrt;                 // m^(2/3)/s, epsilon^(1/3) >= 0
};

// Node values of a map, element (i, j) at (s_i, z_j), s = (r/R)^2, R the wall's radius at z_j. None of them
// is singular on the axis.
struct AirNodes {
  Eigen::MatrixXd stream_over_s;  // m3/s, chi = psi/s
  Eigen::MatrixXd turn_rate;      // 1/s, Gamma = u_theta/r
  Eigen::MatrixXd sigma;          // m/s
  Eigen::MatrixXd epsilon_cbrt;   // m^(2/3)/s
};

// Differences between a map and its source: of a column the largest ones at the probe points, relative to the
// largest speed and sigma; of solved air, which has edges, the rms over the volume relative to the rms.
struct AirMapError {
  double velocity;  // 1
  double sigma;     // 1
};

// Interpolated axisymmetric air on even grids of s = (r/R)^2 in [0, 1] and z in [0, H]:
//   u_r = -(r/R^2) chi_z,  u_theta = r Gamma,  u_z = (2/R^2)(chi + s chi_s)
// divergence-free as interpolated, with no flow through the wall where chi(1, z) does not change with z.
//   curl: -r Gamma_z,  -(r/R^2) chi_zz - (4r/R^4)(2 chi_s + s chi_ss),  2 Gamma + 2 s Gamma_s
// (radial, azimuthal, axial). Places outside the vessel are extrapolated from the edge cell.
// Where the wall is a cone, R = radius + slope z, derivatives along z at constant r are d/dz - 2 s R'/R d/ds:
//   u_r = -(r/R^2) chi_z + r (R'/R) u_z
// so that the stream lines of constant s follow the wall; as free of divergence and as tight.
class AirMap {
 public:
  // slope: dR/dz of the wall [1], 0: straight; R stays above 0 up to `height`. Throws LogicError where shapes
  // differ, an axis has less than 4 nodes or the cone closes.
  AirMap(double radius, double height, const AirNodes& nodes, AirMapError error, double slope = 0.0);

  double radius() const { return radius_; }                          // m, at z = 0
  double height() const { return height_; }                          // m
  double slope() const { return slope_; }                            // 1
  double radius_at(double z) const { return radius_ + slope_ * z; }  // m
  int s_nodes() const { return map_.x().nodes; }
  int z_nodes() const { return map_.y().nodes; }
  std::size_t bytes() const { return map_.bytes(); }
  const AirMapError& error() const { return error_; }

  // psi [m3/s] at p_W [m]: 2 pi psi is the upward flow within r.
  double stream_function(const numeric::Vec3<double>& p_W) const;

  // p_W [m].
  template <class T>
  AirSample<T> sample(const numeric::Vec3<T>& p_W) const {
    return slope_ == 0.0 ? sample_within<WallShape::straight>(p_W) : sample_within<WallShape::tapered>(p_W);
  }

  // The same of a map whose wall has this shape.
  template <WallShape wall, class T>
  AirSample<T> sample_within(const numeric::Vec3<T>& p_W) const {
    using numeric::maximum;
    using numeric::select;
    constexpr bool tapered = wall == WallShape::tapered;
    const T x = p_W.x, y = p_W.y, zero(0.0), two(2.0);
    T per_area(inverse_radius_squared_), narrowing = zero;  // narrowing: R'/R
    if constexpr (tapered) {
      const T inverse = T(1.0) / (T(radius_) + T(slope_) * p_W.z);
      per_area = inverse * inverse, narrowing = T(slope_) * inverse;
    }
    const T s = (x * x + y * y) * per_area;
    const auto stencil = map_.stencil(map_.locate(s, p_W.z));
    numeric::Jet<T> jets[channels];
    map_.jets<fixed_channels>(stencil, jets);
    const auto &chi = jets[0], &gamma = jets[1], &sigma = jets[2];

    const T u_z = two * per_area * (chi.f + s * chi.fx);
    T inward = per_area * chi.fy;  // -u_r/r
    T azimuthal =                  // (curl u)_theta / r
        -per_area * (chi.fyy + T(4.0) * per_area * (two * chi.fx + s * chi.fxx));
    T turn_rate_up = gamma.fy;  // along z, at constant r
    // A spline through values near zero may dip below it.
    const auto turbulent = sigma.f > zero;
    T sigma_up = sigma.fy;
    if constexpr (tapered) {
      const T shift = two * s * narrowing;
      const T u_z_slope = two * per_area * (two * chi.fx + s * chi.fxx);  // d/ds
      const T u_z_up = two * per_area * (chi.fy + s * chi.fxy) - two * narrowing * u_z - shift * u_z_slope;
      inward = inward - narrowing * u_z;
      azimuthal = azimuthal + per_area * (shift * chi.fxy + two * narrowing * chi.fy) +
                  narrowing * (u_z_up - narrowing * u_z);
      turn_rate_up = turn_rate_up - shift * gamma.fx;
      sigma_up = sigma_up - shift * sigma.fx;
    }
    const T radial_slope = select(turbulent, two * per_area * sigma.fx, zero);
    const T fluctuation = select(turbulent, sigma.f, zero), epsilon_cbrt = maximum(jets[3].f, zero);
    return {
        {-x * inward - y * gamma.f, x * gamma.f - y * inward, u_z},
        {-x * turn_rate_up - y * azimuthal, x * azimuthal - y * turn_rate_up, two * (gamma.f + s * gamma.fx)},
        fluctuation,
        {x * radial_slope, y * radial_slope, select(turbulent, sigma_up, zero)},
        inverse_lagrangian_time(fluctuation, epsilon_cbrt * epsilon_cbrt * epsilon_cbrt),
        epsilon_cbrt};
  }

 private:
  // The curl takes second derivatives of chi.
  static constexpr int channels = 4, fixed_channels = 1;
  double radius_, height_, slope_, inverse_radius_squared_;
  AirMapError error_;
  numeric::BsplineMap map_;
};

struct AirMapLimits {
  double velocity_error;  // 1, wanted, of the largest speed
  int nodes;              // most nodes (both axes multiplied) that may be spent
};

// The map of a column: refined until the velocity error at 16384 spread probe points is within the limit,
// along whichever axis helps more. Where the nodes do not suffice (a plug flow's thin wall layer) the finest
// map is returned; its error() tells.
AirMap map_of(const Column& column, const AirMapLimits& limits = {1e-3, 1 << 20});

}  // namespace driftglow::air
