#include "models/swirl_flow/vessel.hpp"

#include <algorithm>
#include <cmath>
#include <iomanip>
#include <sstream>

#include "models/air/turbulence.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::swirl_flow {
namespace {

constexpr double inlet_intensity = 0.1;  // 1, of the inlet's speed: common behind small axial fans, no source
constexpr double inlet_length_share =
    0.07;  // 1, length scale over the annulus' width, from memory: pipe core

constexpr double precessing_angle = constant::pi / 4.0;  // rad
constexpr double widest_gap = 0.3;                       // 1, of the radius
constexpr double two_grid_safety = 3.0;                  // 1 [roache1994]

template <class... Parts>
[[noreturn]] void refuse(const Parts&... parts) {
  std::ostringstream text;
  (text << ... << parts);
  throw InputError(text.str());
}

void check(const VesselGeometry& g) {
  const auto positive = [](double value, const char* name, const char* unit) {
    if (!(value > 0.0) || !std::isfinite(value))
      refuse("the ", name, " is ", value, " ", unit, "; expected more than 0");
  };
  positive(g.radius, "vessel's radius", "m");
  positive(g.height, "vessel's height", "m");
  positive(g.inlet_height, "inlet's height", "m");
  const double lid_radius = g.radius_at(g.height), share = lid_radius / g.radius;
  if (!(share >= 0.65 && share <= 1.35 && std::fabs(g.slope) <= 0.2680)) {
    refuse("the wall's slope is ", g.slope, ", and its radius at the lid ", share,
           " times that at the mesh; expected 15 degrees at most and 0.65 to 1.35 times");
  }
  positive(g.density, "air's density", "kg/m3");
  positive(g.dynamic_viscosity, "air's viscosity", "Pa s");
  if (!(g.fan.radius > 0.0 && g.fan.radius <= g.radius)) {
    refuse("the fan's radius is ", g.fan.radius, " m; expected more than 0 and at most the vessel's, ",
           g.radius, " m");
  }
  if (!(g.fan.hub_radius >= 0.0 && g.fan.hub_radius < 0.9 * g.fan.radius)) {
    refuse("the hub's radius is ", g.fan.hub_radius, " m; expected 0 to nine tenths of the fan's, ",
           g.fan.radius, " m");
  }
  if (g.fan.swirl == FanSwirl::angle && !(std::fabs(g.fan.swirl_angle) <= 1.2)) {
    refuse("the fan's swirl angle is ", g.fan.swirl_angle, " rad; expected within 1.2 rad (69 degrees)");
  }
  if (g.fan.swirl == FanSwirl::work && !(g.fan.angular_speed != 0.0 && g.fan.efficiency > 0.0 &&
                                         g.fan.efficiency <= 1.0 && g.fan.hub_radius > 0.0)) {
    refuse("swirl from the fan's work needs its speed, an efficiency in (0, 1] and a hub; they are ",
           g.fan.angular_speed, " rad/s, ", g.fan.efficiency, " and ", g.fan.hub_radius, " m");
  }
  if (!(g.mesh_loss >= 0.0) || !(g.fan.guard_loss >= 0.0) || !(g.tag_weight >= 0.0)) {
    refuse("losses and tag weight are ", g.mesh_loss, ", ", g.fan.guard_loss, " and ", g.tag_weight,
           " N; expected none below 0");
  }
  for (const auto& fins : g.fins) {
    if (!(fins.count > 0 && fins.depth > 0.0 && fins.depth <= g.radius && fins.from < fins.to &&
          fins.from >= -g.inlet_height && fins.to <= g.height - g.side_gap)) {
      refuse("fins reach from ", fins.from, " m to ", fins.to, " m, ", fins.depth,
             " m deep; expected them between fan and vents, not deeper than the vessel's radius");
    }
    if (fins.from < 0.0 && fins.to > 0.0) {
      refuse("fins reach from ", fins.from, " m to ", fins.to,
             " m through the mesh; expected them on one side");
    }
  }
  if (!(g.side_gap >= 0.0 && g.side_gap <= 0.5 * g.height)) {
    refuse("the side gap is ", g.side_gap, " m; expected 0 to half the vessel's height, ", g.height, " m");
  }
  if (g.lid_vent) {
    const auto& vent = *g.lid_vent;
    if (!(vent.inner_radius >= 0.0 && vent.inner_radius < vent.outer_radius &&
          vent.outer_radius <= lid_radius * (1.0 + 1e-12) && vent.open_share > 0.0 &&
          vent.open_share <= 1.0)) {
      refuse("the lid is open from ", vent.inner_radius, " m to ", vent.outer_radius, " m, share ",
             vent.open_share, "; expected a ring within the vessel's radius and a share in (0, 1]");
    }
    if (!(vent.discharge_coefficient >= 0.5 && vent.discharge_coefficient <= 1.0)) {
      refuse("the lid's discharge coefficient is ", vent.discharge_coefficient, "; expected 0.5 to 1");
    }
  } else if (g.side_gap == 0.0) {
    refuse("the vessel has neither a side gap nor an open lid; expected one, the air must leave");
  }
  if (g.side_gap > 0.0 && !(g.side_gap_discharge >= 0.5 && g.side_gap_discharge <= 1.0)) {
    refuse("the side gap's discharge coefficient is ", g.side_gap_discharge, "; expected 0.5 to 1");
  }
}

// Faces through every edge (sorted, first and last are the domain's): steps of `widest`, narrower where edges
// lie close (at least `least` cells between two), growing by about a fifth from cell to cell.
std::vector<double> faces_through(std::vector<double> edges, double widest, int least, int refinement) {
  std::sort(edges.begin(), edges.end());
  const double extent = edges.back() - edges.front();
  edges.erase(
      std::unique(edges.begin(), edges.end(), [&](double a, double b) { return b - a < 1e-6 * extent; }),
      edges.end());
  const auto step_at = [&](double x) {
    double step = widest;
    for (std::size_t n = 1; n < edges.size(); ++n) {
      const double outside = std::max({edges[n - 1] - x, x - edges[n], 0.0});
      step = std::min(step, (edges[n] - edges[n - 1]) / least + 0.2 * outside);
    }
    return step;
  };
  std::vector<double> faces{edges.front()};
  for (std::size_t n = 1; n < edges.size(); ++n) {
    constexpr int samples = 400;
    const double low = edges[n - 1], length = edges[n] - low;
    std::vector<double> counted{0.0};
    for (int i = 0; i < samples; ++i) {
      counted.push_back(counted.back() + length / samples / step_at(low + length * (i + 0.5) / samples));
    }
    const int cells = refinement * std::max(least, static_cast<int>(std::lround(counted.back())));
    std::size_t at = 0;
    for (int i = 1; i < cells; ++i) {
      const double wanted = counted.back() * i / cells;
      while (counted[at + 1] < wanted) ++at;
      faces.push_back(low + length / samples *
                                (double(at) + (wanted - counted[at]) / (counted[at + 1] - counted[at])));
    }
    faces.push_back(edges[n]);
  }
  return faces;
}

int face_at(const std::vector<double>& faces, double x) {
  const auto nearest = std::min_element(
      faces.begin(), faces.end(), [&](double a, double b) { return std::fabs(a - x) < std::fabs(b - x); });
  return static_cast<int>(nearest - faces.begin());
}

double fan_area(const FanGeometry& fan) {
  return constant::pi * (fan.radius * fan.radius - fan.hub_radius * fan.hub_radius);
}

// Coarse cells over the radius.
int coarse_cells(Detail detail) {
  switch (detail) {
    case Detail::quick:
      return 12;
    case Detail::normal:
      return 18;
    case Detail::fine:
      return 28;
  }
  throw LogicError("no such detail");
}

// Blasius' laminar plate, 1.328/sqrt(Re) one side.
double skin_friction(const VesselGeometry& g, const FinGeometry& fins, double flow) {
  const double speed = flow / (constant::pi * g.radius * g.radius);
  return 1.328 / std::sqrt(std::max(100.0, g.density * speed * (fins.to - fins.from) / g.dynamic_viscosity));
}

struct Solution {
  Settled settled;
  air::OperatingPoint operating_point;
};

Solution settle_on_fan(FlowSolver& solver, const VesselGeometry& g, const air::FanCurve& fan) {
  const double area = constant::pi * g.radius * g.radius;
  air::OperatingPoint point{};
  const auto steer = [&] {
    const double flow = solver.inlet_flow(), axial = flow / fan_area(g.fan);
    const double loss = std::max(0.0, solver.inlet_pressure()) / (0.5 * g.density * std::pow(flow / area, 2));
    point = air::operating_point(fan, {{{"vessel", loss, area}, {"guard", g.fan.guard_loss, fan_area(g.fan)}},
                                       0.0,
                                       area,
                                       g.tag_weight,
                                       g.density});
    const double factor = point.flow / flow;
    if (!(factor > 0.0)) refuse("fan \"", fan.name(), "\" moves no air against the tags' weight");
    bool met = std::fabs(factor - 1.0) < 1e-5;
    const auto momentum_balance = solver.angular_momentum_balance();
    met = met && std::fabs(momentum_balance.imbalance()) <= 1e-4 * std::fabs(momentum_balance.inflow);
    solver.rescale(factor);
    if (g.fan.swirl == FanSwirl::work) {
      const double rise = point.pressure + 0.5 * g.density * std::pow(axial * factor, 2);
      const double wanted = rise / (g.fan.efficiency * g.density * g.fan.angular_speed);
      const auto& bottom = solver.flow_case().bottom;
      const auto& faces = solver.flow_case().r_faces;
      std::vector<double> momentum(bottom.size(), 0.0);
      for (std::size_t i = 0; i < bottom.size(); ++i) {
        if (bottom[i].kind != BoundaryKind::inlet) continue;
        momentum[i] = wanted;
        const double now = bottom[i].swirl_speed * 0.5 * (faces[i] + faces[i + 1]);
        met = met && std::fabs(now - wanted) <= 1e-5 * std::fabs(wanted);
      }
      solver.set_inlet_angular_momentum(momentum);
    }
    return met;
  };
  steer();
  const Settled settled = settle(solver, {1e-6, 12000, 0.7}, steer);
  return {settled, point};
}

double rms_difference(const FlowSolver& fine, const FlowSolver& coarse, double& speed) {
  FlowSolver lifted(fine.flow_case());
  lifted.set_field(coarse.flow_case(), coarse.field());
  const FlowField &a = fine.field(), &b = lifted.field();
  const auto& r = fine.flow_case().r_faces;
  const auto& z = fine.flow_case().z_faces;
  double difference = 0.0, square = 0.0;
  for (int j = 0; j < fine.flow_case().z_cells(); ++j) {
    if (z[j] < 0.0) continue;
    for (int i = 0; i < fine.flow_case().r_cells(); ++i) {
      const double width = fine.flow_case().cell_width(j);
      const double volume = (r[i + 1] * r[i + 1] - r[i] * r[i]) * width * width * (z[j + 1] - z[j]),
                   rc = 0.5 * (r[i] + r[i + 1]) * width,
                   slope = 0.5 * (r[i] + r[i + 1]) * fine.flow_case().cell_slope(j);
      const auto middle = [&](const FlowField& f) {
        const double u_z = 0.5 * (f.u_z(i, j) + f.u_z(i, j + 1));
        return Eigen::Array3d(0.5 * (f.u_r(i, j) + f.u_r(i + 1, j)) + slope * u_z,
                              f.angular_momentum(i, j) / rc, u_z);
      };
      difference += volume * (middle(a) - middle(b)).square().sum();
      square += volume * middle(a).square().sum();
    }
  }
  speed = std::sqrt(square);
  return std::sqrt(difference);
}

std::vector<std::pair<std::string, double>> loss_pressures(const FlowSolver& solver,
                                                           const air::OperatingPoint& point) {
  const auto power = solver.power_balance();
  std::vector<std::pair<std::string, double>> parts{{"mesh", power.screens / point.flow},
                                                    {"fins", power.fins / point.flow},
                                                    {"vents", power.vents / point.flow},
                                                    {"swirl", power.swirl_out / point.flow}};
  for (const auto& [name, pressure] : point.loss_pressures)
    if (name == "guard") parts.insert(parts.begin(), {name, pressure});
  double rest = point.pressure - point.tag_pressure;
  for (const auto& part : parts) rest -= part.second;
  parts.emplace_back("rest", rest);
  return parts;
}

std::vector<std::string> warnings_of(const VesselGeometry& g, const SolvedVessel& vessel) {
  std::vector<std::string> warnings;
  const auto warn = [&](const auto&... parts) {
    std::ostringstream text;
    text << std::setprecision(3);
    (text << ... << parts);
    warnings.push_back(text.str());
  };
  if (g.side_gap > widest_gap * g.radius) {
    warn("the side gap is ", g.side_gap / g.radius, " of the vessel's radius; above ", widest_gap,
         " its discharge coefficient no longer tells what flows through it");
  }
  if (vessel.precession) {
    warn("the fan's swirl of ", std::fabs(vessel.swirl_angle) * 180.0 / constant::pi,
         " degrees makes a real core circle the axis, at about ", vessel.precession->frequency, " Hz (",
         vessel.precession->lowest, " to ", vessel.precession->highest,
         " Hz); the computed air is steady and does not hold that");
  }
  if (std::fabs(vessel.core_wind.speed) < vessel.core_wind.band) {
    warn("the wind on the axis at half height is ", vessel.core_wind.speed, " m/s, uncertain by ",
         vessel.core_wind.band, " m/s: whether tags rise or sink there is not known");
  }
  if (vessel.error.flow > 0.15 || vessel.error.velocity > 0.45) {
    warn("two grids leave the flow uncertain by ", vessel.error.flow, " and the wind by ",
         vessel.error.velocity, " of the speeds; a finer detail would tell more");
  }
  return warnings;
}

}  // namespace

double mesh_deflection(double loss) {
  return std::min(1.0, 1.1 / std::sqrt(1.0 + loss));
}

double open_share(double hole_diameter, int count, double inner_radius, double outer_radius) {
  const double ring = outer_radius * outer_radius - inner_radius * inner_radius;
  const double share = 0.25 * count * hole_diameter * hole_diameter / ring;
  if (!(hole_diameter > 0.0 && count > 0 && inner_radius >= 0.0 && ring > 0.0 && share <= 1.0)) {
    refuse(count, " holes of ", hole_diameter, " m between radii of ", inner_radius, " m and ", outer_radius,
           " m open ", share, " of the ring; expected more than 0 and at most 1");
  }
  return share;
}

double vent_loss(double discharge_coefficient, double open_share) {
  const double whole = discharge_coefficient * open_share;
  return 1.0 / (whole * whole);
}

double side_gap_loss(double discharge_coefficient, double gap_over_radius) {
  return vent_loss(discharge_coefficient, 1.0) - (0.035 + 0.25 * std::min(gap_over_radius, widest_gap));
}

FlowCase vessel_case(const VesselGeometry& g, Detail detail, int refinement, double flow) {
  check(g);
  std::vector<double> r_edges{0.0, g.fan.radius, g.radius},
      z_edges{-g.inlet_height, 0.0, g.height - g.side_gap, g.height};
  if (g.fan.hub_radius > 0.0) r_edges.push_back(g.fan.hub_radius);
  // Radii as the grid has them at the mesh.
  const double lid_radius = g.radius_at(g.height), lid_width = lid_radius / g.radius;
  const auto fin_edge = [&](const FinGeometry& fins) {
    return g.radius - fins.depth * (g.radius / g.radius_at(0.5 * (fins.from + fins.to)));
  };
  if (g.lid_vent) {
    r_edges.push_back(g.lid_vent->inner_radius / lid_width);
    r_edges.push_back(std::min(g.lid_vent->outer_radius / lid_width, g.radius));
  }
  // The flow turns into the side gap within about its height.
  if (g.side_gap > 0.0) r_edges.push_back(g.radius - g.side_gap / lid_width);
  for (const auto& fins : g.fins) {
    r_edges.push_back(fin_edge(fins));
    z_edges.push_back(fins.from), z_edges.push_back(fins.to);
  }
  const double step = g.radius / coarse_cells(detail);
  FlowCase flow_case{faces_through(r_edges, step, 2, refinement),
                     faces_through(z_edges, 1.2 * step, 2, refinement),
                     g.density,
                     g.dynamic_viscosity,
                     Turbulence::k_epsilon,
                     {},
                     {},
                     {},
                     {},
                     {},
                     {}};
  const auto& r = flow_case.r_faces;
  const auto& z = flow_case.z_faces;
  if (g.slope != 0.0)
    for (const double height : z) flow_case.widening.push_back(g.radius_at(height) / g.radius);
  const double speed = flow / fan_area(g.fan);
  const double k = 1.5 * std::pow(inlet_intensity * speed, 2);
  const double length = inlet_length_share * (g.fan.radius - g.fan.hub_radius);
  // What is breathed in comes from a still room.
  const double outside_k = 1e-4 * k, outside_epsilon = air::dissipation_from_length(outside_k, length);
  const Boundary wall{.kind = BoundaryKind::wall};
  flow_case.inner.assign(flow_case.z_cells(), {.kind = BoundaryKind::symmetry});
  flow_case.outer.assign(flow_case.z_cells(), wall);
  flow_case.bottom.assign(flow_case.r_cells(), wall);
  flow_case.top.assign(flow_case.r_cells(), wall);
  const auto vent = [&](double loss) {
    return Boundary{.kind = BoundaryKind::vent,
                    .kinetic_energy = outside_k,
                    .dissipation = outside_epsilon,
                    .loss = loss};
  };
  if (g.side_gap > 0.0) {
    for (int j = face_at(z, g.height - g.side_gap); j < flow_case.z_cells(); ++j)
      flow_case.outer[j] = vent(side_gap_loss(g.side_gap_discharge, g.side_gap / lid_radius));
  }
  if (g.lid_vent) {
    for (int i = face_at(r, g.lid_vent->inner_radius / lid_width);
         i < face_at(r, g.lid_vent->outer_radius / lid_width); ++i) {
      flow_case.top[i] = vent(vent_loss(g.lid_vent->discharge_coefficient, g.lid_vent->open_share));
    }
  }
  const double turn = g.fan.swirl == FanSwirl::angle ? std::tan(g.fan.swirl_angle) : 0.0;
  for (int i = face_at(r, g.fan.hub_radius); i < face_at(r, g.fan.radius); ++i) {
    flow_case.bottom[i] = {.kind = BoundaryKind::inlet,
                           .speed = speed,
                           .swirl_speed = turn * speed,
                           .kinetic_energy = k,
                           .dissipation = air::dissipation_from_length(k, length)};
  }
  if (g.mesh_loss > 0.0)
    flow_case.screens.push_back({face_at(z, 0.0), g.mesh_loss, mesh_deflection(g.mesh_loss)});
  for (const auto& fins : g.fins) {
    flow_case.fins.push_back({face_at(r, fin_edge(fins)), flow_case.r_cells(), face_at(z, fins.from),
                              face_at(z, fins.to), fins.count, skin_friction(g, fins, flow)});
  }
  return flow_case;
}

SolvedVessel solve_vessel(const VesselGeometry& g, const air::FanCurve& fan, Detail detail) {
  check(g);
  const double start = 0.5 * (fan.points().front().first + fan.points().back().first);
  FlowSolver coarse(vessel_case(g, detail, 1, start));
  settle(coarse, {2e-3, 4000, 0.7});  // so that the fan meets about the real loss
  const auto first = settle_on_fan(coarse, g, fan);
  FlowSolver solver(vessel_case(g, detail, 2, coarse.inlet_flow()));
  solver.set_field(coarse.flow_case(), coarse.field());
  const auto second = settle_on_fan(solver, g, fan);

  const FlowField& field = solver.field();
  const auto& flow_case = solver.flow_case();
  const int nr = flow_case.r_cells(), nz = flow_case.z_cells();
  const double lid_width = g.radius_at(g.height) / g.radius;
  SolvedVessel result{.flow_case = flow_case,
                      .field = field,
                      .stream_function = solver.stream_function(),
                      .operating_point = second.operating_point,
                      .pressure_under_lid = field.pressure(0, nz - 1),
                      .side_gap = {},
                      .lid = {},
                      .swirl_angle = 0.0,
                      .core_wind = {},
                      .precession = {},
                      .angular_momentum = solver.angular_momentum_balance(),
                      .mass_defect = solver.mass_defect(),
                      .coarse_settled = first.settled,
                      .settled = second.settled,
                      .error = {},
                      .warnings = {}};
  result.operating_point.loss_pressures = loss_pressures(solver, second.operating_point);
  const auto& r = flow_case.r_faces;
  const auto& z = flow_case.z_faces;
  const auto add = [](VentFlow& vent, const Boundary& at, double flow) {
    if (at.kind == BoundaryKind::vent) (flow > 0.0 ? vent.out : vent.in) += std::fabs(flow);
  };
  for (int j = 0; j < nz; ++j)
    add(result.side_gap, flow_case.outer[j],
        2.0 * constant::pi * g.radius_at(0.5 * (z[j] + z[j + 1])) * (z[j + 1] - z[j]) * field.u_r(nr, j));
  double axial = 0.0, tangential = 0.0;
  for (int i = 0; i < nr; ++i) {
    const double area = constant::pi * (r[i + 1] * r[i + 1] - r[i] * r[i]);
    add(result.lid, flow_case.top[i], area * lid_width * lid_width * field.u_z(i, nz));
    if (flow_case.bottom[i].kind == BoundaryKind::inlet)
      axial += area * flow_case.bottom[i].speed, tangential += area * flow_case.bottom[i].swirl_speed;
  }
  result.swirl_angle = std::atan2(tangential, axial);
  const double flow = result.operating_point.flow, mean_speed = flow / (constant::pi * g.radius * g.radius);
  const int middle = face_at(z, 0.5 * g.height);
  result.core_wind = {field.u_z(0, middle), result.swirl_angle != 0.0 ? 0.2 * mean_speed : 0.0};
  if (std::fabs(result.swirl_angle) > precessing_angle) {
    const double rate = flow / (constant::pi * g.fan.radius * g.fan.radius) / (2.0 * g.fan.radius);
    result.precession = {0.7 * rate, 0.5 * rate, 1.0 * rate};
  }
  const double under_lid = coarse.field().pressure(0, coarse.flow_case().z_cells() - 1);
  double speed = 0.0;
  const double difference = rms_difference(solver, coarse, speed);
  const double of_pressure = two_grid_safety * std::fabs(under_lid - result.pressure_under_lid) /
                             std::max(std::fabs(result.pressure_under_lid), 1e-12);
  const double of_flow = two_grid_safety * std::fabs(coarse.inlet_flow() / solver.inlet_flow() - 1.0);
  result.error = {std::max(of_flow, 0.5 * of_pressure), of_pressure,
                  two_grid_safety * difference / std::max(speed, 1e-300)};
  result.warnings = warnings_of(g, result);
  return result;
}

}  // namespace driftglow::swirl_flow
