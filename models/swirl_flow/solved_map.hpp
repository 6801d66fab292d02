#pragma once

#include "models/air/air_map.hpp"
#include "models/swirl_flow/hermite_map.hpp"
#include "models/swirl_flow/vessel.hpp"

namespace driftglow::swirl_flow {

// Air of a solved vessel, 0 <= z <= height, in the way of air::AirMap, but from the stream function psi
// itself by monotone Hermite interpolation in s = (r/R)^2 and z:
//   u_r = -psi_z/r,  u_theta = r Gamma,  u_z = (2/R^2) psi_s
// divergence-free as interpolated, no flow through wall or lid where they are closed (edges of vents are met
// within a cell of the map), and no jets or reversals that the solver's faces do not have. Velocity is
// continuous, its derivatives are not.
//   curl: -r Gamma_z,  -psi_zz/r - (4r/R^4) psi_ss,  2 Gamma + 2 s Gamma_s
class SolvedMap {
 public:
  // Node values on even grids of s in [0, 1] and z in [0, height]: psi [m3/s], u_theta/r [1/s], sigma [m/s],
  // epsilon^(1/3) [m^(2/3)/s]. psi must be 0 at s = 0. Throws LogicError where it is not, or as HermiteMap.
  SolvedMap(double radius, double height, const Eigen::MatrixXd& stream_function,
            const Eigen::MatrixXd& turn_rate, const Eigen::MatrixXd& sigma,
            const Eigen::MatrixXd& epsilon_cbrt);

  double radius() const { return radius_; }  // m
  double height() const { return height_; }  // m
  int s_nodes() const { return map_.x().nodes; }
  int z_nodes() const { return map_.y().nodes; }
  std::size_t bytes() const { return map_.bytes(); }

  // psi [m3/s] at p_W [m].
  double stream_function(const numeric::Vec3<double>& p_W) const {
    numeric::Jet<double> jets[channels];
    map_.jets((p_W.x * p_W.x + p_W.y * p_W.y) * inverse_radius_squared_, p_W.z, jets);
    return jets[0].f;
  }

  // p_W [m].
  template <class T>
  air::AirSample<T> sample(const numeric::Vec3<T>& p_W) const {
    using numeric::maximum;
    const T x = p_W.x, y = p_W.y, per_area(inverse_radius_squared_);
    const T s = (x * x + y * y) * per_area;
    numeric::Jet<T> jets[channels];
    map_.jets(s, p_W.z, jets);
    const auto &psi = jets[0], &gamma = jets[1], &sigma = jets[2];
    const T two(2.0);
    // psi_z and psi_zz fall with s towards the axis without loss of digits, so the quotients have their
    // limits.
    const T per_r_squared = per_area / maximum(s, T(1e-20));
    const T inward = per_r_squared * psi.fy;                                                        // -u_r/r
    const T azimuthal = T(0.0) - per_r_squared * psi.fyy - T(4.0) * per_area * per_area * psi.fxx;  // over r
    const T fluctuation = maximum(sigma.f, T(0.0)), epsilon_cbrt = maximum(jets[3].f, T(0.0));
    const T radial_slope = two * per_area * sigma.fx;
    return {{-x * inward - y * gamma.f, x * gamma.f - y * inward, two * per_area * psi.fx},
            {-x * gamma.fy - y * azimuthal, x * azimuthal - y * gamma.fy, two * (gamma.f + s * gamma.fx)},
            fluctuation,
            {x * radial_slope, y * radial_slope, sigma.fy},
            air::inverse_lagrangian_time(fluctuation, epsilon_cbrt * epsilon_cbrt * epsilon_cbrt),
            epsilon_cbrt};
  }

 private:
  static constexpr int channels = 4;
  double radius_, height_, inverse_radius_squared_;
  HermiteMap map_;
};

// The map of a solved vessel on at least s_cells x z_cells cells; up to a quarter more along z, so that a
// node comes as near as may be to the side gap's edge.
SolvedMap map_of(const SolvedVessel& vessel, int s_cells = 96, int z_cells = 128);

}  // namespace driftglow::swirl_flow
