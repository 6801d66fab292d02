#include "sim/maps/air_state.hpp"

#include "models/air/properties.hpp"
#include "models/constants.hpp"
#include "sim/maps/stored.hpp"

namespace driftglow::maps {
namespace {

air::FlowSystem flow_system(const scenario::Scenario& scenario, double density) {
  air::FlowSystem system;
  system.losses = scenario.air.losses;
  system.fin_loss_coefficient = scenario.air.fin_loss_coefficient;
  const double radius = 0.5 * scenario.vessel.inner_diameter;
  system.vessel_area = constant::pi * radius * radius;
  system.tag_weight = 0.0;
  for (const auto& tag : scenario.tags) {
    if (!tag.hold && tag.body.kind == scenario::BodyKind::solid) {
      system.tag_weight += tag.count * tag.body.mass * constant::gravity;
    }
  }
  system.density = density;
  return system;
}

air::ColumnAir column_of(const scenario::Scenario& scenario, double flow, double kinematic_viscosity) {
  const auto& given = scenario.air;
  air::ColumnAir column{};
  column.radius = 0.5 * scenario.vessel.inner_diameter;
  column.height = scenario.vessel.height;
  column.flow = flow;
  column.kinematic_viscosity = kinematic_viscosity;
  column.profile_exponent = given.profile_exponent;
  column.circulation = given.circulation;
  column.side_vents = given.side_vents;
  column.lid_opening = given.lid_opening;
  column.swirl_speed = given.swirl_speed;
  column.fin_swirl_factor = given.fin_swirl_factor;
  column.swirl_core_radius = given.swirl_core_radius;
  column.swirl_wall_exponent = given.swirl_wall_exponent;
  column.swirl_decay = given.swirl_decay;
  column.turbulence_intensity = given.turbulence_intensity;
  column.turbulence_floor = given.turbulence_floor;
  column.length_scale = given.length_scale;
  return column;
}

}  // namespace

AirState make_air(const scenario::Scenario& scenario) {
  const double density = air::density(scenario.ambient.temperature, scenario.ambient.pressure);
  const double viscosity = air::dynamic_viscosity(scenario.ambient.temperature);
  std::optional<air::OperatingPoint> fan_point;
  double flow = 0.0;
  if (const auto* fan = std::get_if<scenario::Fan>(&scenario.air.flow)) {
    fan_point = air::operating_point(air::FanCurve(fan->name, fan->curve), flow_system(scenario, density));
    flow = fan_point->flow;
  } else {
    flow = std::get<double>(scenario.air.flow);
  }
  const air::Column column(column_of(scenario, flow, viscosity / density));
  return {density, viscosity, fan_point, column, air::map_of(column)};
}

void write_air(const AirState& air, const scenario::Scenario& scenario, const std::string& program_version,
               const std::filesystem::path& path, const store::Run& run) {
  constexpr int r_nodes = 49, z_nodes = 97;
  const auto table = air::tabulate(air.column, r_nodes, z_nodes);
  store::Writer file(path, {program_version, scenario.text, scenario.hash, scenario.flight.seed});
  write_axis(file, "/axes/r", table.r, "distance from the vessel's axis");
  write_axis(file, "/axes/z", table.z, "height above the floor mesh");
  const auto write = [&](const char* name, const Eigen::MatrixXd& values, const char* unit,
                         const char* meaning) {
    write_matrix(file, name, values, {unit, std::string(meaning) + ", [r][z]"});
  };
  write("/mean/u_r", table.u_r, "m/s", "radial mean velocity");
  write("/mean/u_theta", table.u_theta, "m/s", "azimuthal mean velocity");
  write("/mean/u_z", table.u_z, "m/s", "axial mean velocity");
  write("/mean/stream_function", table.stream_function, "m3/s", "Stokes stream function");
  write("/turbulence/k", table.kinetic_energy, "m2/s2", "turbulent kinetic energy");
  write("/turbulence/epsilon", table.dissipation, "m2/s3", "dissipation rate");
  file.set_number("/check", "velocity_error", air.map.error().velocity, "1");
  file.commit(run);
}

}  // namespace driftglow::maps
