#include "models/air/column.hpp"

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <sstream>

#include "models/air/turbulence.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/numeric/square.hpp"

namespace driftglow::air {
namespace {

using numeric::square;

void require(bool good, const char* what, double value, const char* expected) {
  if (good) return;
  std::ostringstream text;
  text << "air: " << what << " is " << value << "; expected " << expected;
  throw InputError(text.str());
}

void require_all(const ColumnAir& d) {
  require(d.radius > 0.0, "vessel radius [m]", d.radius, "more than 0");
  require(d.height >= 0.5 * d.radius, "vessel height [m]", d.height, "at least half the inner radius");
  require(d.flow >= 0.0 && std::isfinite(d.flow), "flow [m3/s]", d.flow, "0 or more");
  require(d.kinematic_viscosity > 0.0, "kinematic viscosity [m2/s]", d.kinematic_viscosity, "more than 0");
  require(d.profile_exponent >= 1.0, "profile exponent", d.profile_exponent, "1 or more");
  require(std::isfinite(d.circulation), "circulation", d.circulation, "a finite number");
  require(std::isfinite(d.swirl_speed), "swirl speed [m/s]", d.swirl_speed, "a finite number");
  require(d.fin_swirl_factor >= 0.0, "fin swirl factor", d.fin_swirl_factor, "0 or more");
  require(d.swirl_core_radius > 0.0, "swirl core radius [m]", d.swirl_core_radius, "more than 0");
  require(d.swirl_wall_exponent >= 1.0, "swirl wall exponent", d.swirl_wall_exponent, "1 or more");
  require(d.turbulence_intensity >= 0.0, "turbulence intensity", d.turbulence_intensity, "0 or more");
  require(d.turbulence_floor >= 0.0, "turbulence floor [m2/s2]", d.turbulence_floor, "0 or more");
  if (d.swirl_decay) require(*d.swirl_decay >= 0.0, "swirl decay", *d.swirl_decay, "0 or more");
  if (d.length_scale) require(*d.length_scale > 0.0, "length scale [m]", *d.length_scale, "more than 0");
  if (d.side_vents) {
    const auto [bottom, fraction] = *d.side_vents;
    require(bottom >= 0.0 && bottom < d.height, "side vents' lower edge [m]", bottom,
            "a height between the floor and the lid");
    require(fraction >= 0.0 && fraction <= 1.0, "side vents' share of the flow", fraction, "0 to 1");
  }
  if (d.lid_opening) {
    const auto [inner, outer] = *d.lid_opening;
    require(outer > 0.0 && outer <= d.radius, "lid opening's outer radius [m]", outer,
            "more than 0 and at most the vessel's inner radius");
    require(inner >= 0.0 && inner < outer, "lid opening's inner radius [m]", inner,
            "0 (a hole) or more and less than the outer radius");
  }
}

// (1 - e^-x)/x, 1 at x = 0.
double burgers(double x) {
  return x > 0.0 ? -std::expm1(-x) / x : 1.0;
}

// u_theta/r over its value on the axis.
double turn_shape(const ColumnAir& d, double s) {
  return burgers(s * square(d.radius / d.swirl_core_radius)) *
         (1.0 - std::pow(s, 0.5 * d.swirl_wall_exponent));
}

// Largest (r/R) * turn_shape: a scan brackets the peak, Brent's method finishes it.
double swirl_peak(const ColumnAir& d) {
  const auto speed = [&](double x) { return x * turn_shape(d, x * x); };
  constexpr int steps = 4096;
  int best = 1;
  for (int i = 2; i < steps; ++i) {
    if (speed(double(i) / steps) > speed(double(best) / steps)) best = i;
  }
  const auto negative = [&](double x) { return -speed(x); };
  const auto found =
      boost::math::tools::brent_find_minima(negative, double(best - 1) / steps, double(best + 1) / steps, 52);
  return -found.second;
}

}  // namespace

double swirl_decay_rate(double reynolds) {
  const double inverse_root = 1.8 * std::log10(std::max(reynolds, 4000.0) / 6.9);
  return 1.49 / square(inverse_root);
}

Column::Column(const ColumnAir& design) : design_(design) {
  require_all(design);
  mean_speed_ = design.flow / (constant::pi * square(design.radius));
  swirl_decay_ = design.swirl_decay.value_or(
      swirl_decay_rate(mean_speed_ * 2.0 * design.radius / design.kinematic_viscosity));
  length_scale_ = design.length_scale.value_or(0.14 * design.radius);
  swirl_turn_rate_ = design.swirl_speed * design.fin_swirl_factor / (design.radius * swirl_peak(design));
}

Column::Ramp Column::quintic_step(double t) {
  if (t <= 0.0) return {0.0, 0.0};
  return {t * t * t * (10.0 + t * (6.0 * t - 15.0)), 30.0 * square(t * (1.0 - t))};
}

Column::Profile Column::floor_profile(double s) const {
  const double m = design_.profile_exponent;
  const double power = std::pow(s, m);
  return {(m + 1.0) / m * (1.0 - power / (m + 1.0)), (m + 1.0) / m * (1.0 - power)};
}

Column::Profile Column::lid_profile(double s) const {
  const auto [inner, outer] = *design_.lid_opening;
  const double s_inner = square(inner / design_.radius), s_outer = square(outer / design_.radius);
  if (s >= s_outer) return {1.0 / s, 0.0};
  if (inner == 0.0) {
    const double t = s / s_outer, t2 = t * t;
    return {1.875 * (1.0 - t2 * (2.0 / 3.0 - 0.2 * t2)) / s_outer, 1.875 * square(1.0 - t2) / s_outer};
  }
  if (s <= s_inner) return {0.0, 0.0};
  const double width = s_outer - s_inner;
  const Ramp share = quintic_step((s - s_inner) / width);
  return {share.value / s, share.slope / width};
}

Column::Ramp Column::lid_ramp(double z) const {
  const double length = 0.5 * design_.radius;
  const Ramp ramp = quintic_step((z - (design_.height - length)) / length);
  return {ramp.value, ramp.slope / length};
}

Column::Ramp Column::vent_ramp(double z) const {
  if (!design_.side_vents) return {1.0, 0.0};
  const auto [bottom, fraction] = *design_.side_vents;
  const double length = design_.height - bottom, t = (z - bottom) / length;
  if (t <= 0.0) return {1.0, 0.0};
  return {1.0 - fraction * t * t * (3.0 - 2.0 * t), -fraction * 6.0 * t * (1.0 - t) / length};
}

double Column::stream_over_s(double s, double z) const {
  double over_s = floor_profile(s).over_s;
  if (design_.lid_opening) over_s += lid_ramp(z).value * (lid_profile(s).over_s - over_s);
  const double sine = std::sin(constant::pi * z / design_.height);
  return 0.5 * mean_speed_ * square(design_.radius) *
         (vent_ramp(z).value * over_s + design_.circulation * (1.0 - s) * sine * sine);
}

double Column::stream_function(double r, double z) const {
  const double s = square(r / design_.radius);
  return s * stream_over_s(s, z);
}

double Column::turn_rate(double s, double z) const {
  return swirl_turn_rate_ * std::exp(-swirl_decay_ * z / (2.0 * design_.radius)) * turn_shape(design_, s);
}

CylindricalVelocity Column::velocity(double r, double z) const {
  const double s = square(r / design_.radius);
  const Ramp vents = vent_ramp(z);
  Profile profile = floor_profile(s);
  double over_s_rise = 0.0;  // d(F/s)/dz [1/m]
  if (design_.lid_opening) {
    const Profile lid = lid_profile(s);
    const Ramp ramp = lid_ramp(z);
    over_s_rise = ramp.slope * (lid.over_s - profile.over_s);
    profile.over_s += ramp.value * (lid.over_s - profile.over_s);
    profile.slope += ramp.value * (lid.slope - profile.slope);
  }
  const double phase = constant::pi * z / design_.height;
  const double sine = std::sin(phase);
  const double c = design_.circulation;
  const double chi_rise = vents.slope * profile.over_s + vents.value * over_s_rise +
                          c * (1.0 - s) * constant::pi / design_.height * std::sin(2.0 * phase);
  return {-0.5 * mean_speed_ * r * chi_rise, r * turn_rate(s, z),
          mean_speed_ * (vents.value * profile.slope + c * (1.0 - 2.0 * s) * sine * sine)};
}

double Column::kinetic_energy(double r, double z) const {
  const auto u = velocity(r, z);
  return 1.5 * square(design_.turbulence_intensity) * (square(u.u_r) + square(u.u_theta) + square(u.u_z)) +
         design_.turbulence_floor;
}

double Column::dissipation(double r, double z) const {
  return dissipation_from_length(kinetic_energy(r, z), length_scale_);
}

AirTable tabulate(const Column& column, int r_nodes, int z_nodes) {
  if (r_nodes < 2 || z_nodes < 2) throw LogicError("an air table needs at least 2 nodes an axis");
  const auto& design = column.design();
  AirTable table;
  table.r = {0.0, design.radius / (r_nodes - 1), r_nodes};
  table.z = {0.0, design.height / (z_nodes - 1), z_nodes};
  for (Eigen::MatrixXd* values : {&table.u_r, &table.u_theta, &table.u_z, &table.kinetic_energy,
                                  &table.dissipation, &table.stream_function}) {
    values->resize(r_nodes, z_nodes);
  }
  for (int i = 0; i < r_nodes; ++i) {
    for (int j = 0; j < z_nodes; ++j) {
      const double r = table.r.at(i), z = table.z.at(j);
      const auto u = column.velocity(r, z);
      table.u_r(i, j) = u.u_r;
      table.u_theta(i, j) = u.u_theta;
      table.u_z(i, j) = u.u_z;
      table.kinetic_energy(i, j) = column.kinetic_energy(r, z);
      table.dissipation(i, j) = column.dissipation(r, z);
      table.stream_function(i, j) = column.stream_function(r, z);
    }
  }
  return table;
}

}  // namespace driftglow::air
