#include "sim/maps/air_state.hpp"

#include <fmt/format.h>

#include <cmath>

#include "models/air/properties.hpp"
#include "models/air/screen_loss.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/solved_map.hpp"
#include "sim/maps/air_grid_file.hpp"
#include "sim/maps/node_file.hpp"
#include "sim/maps/stored.hpp"
#include "sim/maps/stored_maps.hpp"
#include "sim/store/digest.hpp"

namespace driftglow::maps {
namespace {

// Raised whenever the solver or its map changes its numbers.
constexpr int solver_version = 3;

double vessel_area(const scenario::Scenario& scenario) {
  const double radius = 0.5 * scenario.vessel.inner_diameter;
  return constant::pi * radius * radius;
}

air::FlowSystem flow_system(const scenario::Scenario& scenario, const scenario::ColumnAir& given,
                            double density) {
  return {given.losses, given.fin_loss_coefficient, vessel_area(scenario), tag_weight(scenario), density};
}

air::ColumnAir column_of(const scenario::Scenario& scenario, const scenario::ColumnAir& given, double flow,
                         double kinematic_viscosity) {
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

struct Properties {
  double density, viscosity;
  explicit Properties(const scenario::Scenario& scenario)
      : density(air::density(scenario.ambient.temperature, scenario.ambient.pressure)),
        viscosity(air::dynamic_viscosity(scenario.ambient.temperature)) {}
};

// A column and what its fan makes of it.
struct BlownColumn {
  double flow;  // m3/s
  std::optional<air::OperatingPoint> fan_point;
  air::Column column;
};

BlownColumn blown_column(const scenario::Scenario& scenario, const scenario::ColumnAir& given) {
  const Properties air(scenario);
  std::optional<air::OperatingPoint> fan_point;
  double flow = 0.0;
  if (const auto* fan = std::get_if<scenario::Fan>(&given.flow)) {
    fan_point =
        air::operating_point(air::FanCurve(fan->name, fan->curve), flow_system(scenario, given, air.density));
    flow = fan_point->flow;
  } else {
    flow = std::get<double>(given.flow);
  }
  return {flow, fan_point, air::Column(column_of(scenario, given, flow, air.viscosity / air.density))};
}

AirState make_column(const scenario::Scenario& scenario, const scenario::ColumnAir& given) {
  const Properties air(scenario);
  const auto blown = blown_column(scenario, given);
  return {air.density, air.viscosity, blown.flow, blown.fan_point, blown.column, air::map_of(blown.column),
          std::nullopt};
}

AirState make_gridded(const scenario::Scenario& scenario, const scenario::GriddedAir& given) {
  const Properties air(scenario);
  const auto grid = read_air_grid(given, 0.5 * scenario.vessel.inner_diameter, scenario.vessel.height);
  try {
    auto projected = air::project(grid);
    return {air.density,
            air.viscosity,
            projected.flow,
            std::nullopt,
            GriddedSource{projected.change, projected.divergence_before, projected.largest_speed},
            std::move(projected.map),
            std::nullopt};
  } catch (const InputError& error) {
    throw InputError(given.file + ": " + error.what());
  }
}

std::string screen_text(const std::optional<scenario::Screen>& screen) {
  if (!screen) return "none ";
  if (const auto* loss = std::get_if<double>(&*screen)) return fmt::format("loss {} ", *loss);
  const auto& mesh = std::get<air::WireMesh>(*screen);
  return fmt::format("wire {} {} ", mesh.wire, mesh.opening);
}

// Digest of all that solved air follows from.
std::string dependencies(const scenario::Scenario& scenario, const scenario::SolvedAir& given) {
  const Properties air(scenario);
  const auto geometry = geometry_of(scenario, 0.0);
  std::string text =
      fmt::format("{} {} {} {} {} {} {} {} {} ", solver_version, static_cast<int>(given.detail),
                  geometry.radius, geometry.height, geometry.inlet_height, geometry.tag_weight, air.density,
                  air.viscosity, given.fan.name);
  if (geometry.slope != 0.0) text += fmt::format("slope {} ", geometry.slope);
  for (const auto& [flow, pressure] : given.fan.curve) text += fmt::format("{} {} ", flow, pressure);
  const auto& fan = geometry.fan;
  text += fmt::format("{} {} {} {} {} {} ", fan.radius, fan.hub_radius, static_cast<int>(fan.swirl),
                      fan.swirl_angle, fan.angular_speed, fan.efficiency);
  text += screen_text(given.guard) + screen_text(given.mesh);
  for (const auto& fins : geometry.fins)
    text += fmt::format("fins {} {} {} {} ", fins.count, fins.depth, fins.from, fins.to);
  text += fmt::format("gap {} {} ", geometry.side_gap, geometry.side_gap_discharge);
  if (const auto& vent = geometry.lid_vent)
    text += fmt::format("lid {} {} {} {} ", vent->inner_radius, vent->outer_radius, vent->open_share,
                        vent->discharge_coefficient);
  return store::sha256_hex(text);
}

// Losses of an empty vessel, to know the speed at its meshes: 1/C_d^2 at the vents, and both screens.
double flow_by_losses(const scenario::Scenario& scenario, const scenario::SolvedAir& given) {
  const air::FanCurve fan(given.fan.name, given.fan.curve);
  double flow = 0.5 * fan.points().back().first;
  constexpr double discharge = 0.61;
  double open = 2.0 * constant::pi * scenario.vessel.radius_at(scenario.vessel.height) * given.side_gap;
  if (const auto& vent = given.lid_vent)
    open += constant::pi * vent->open_share *
            (vent->outer_radius * vent->outer_radius - vent->inner_radius * vent->inner_radius);
  for (int i = 0; i < 30; ++i) {
    const auto geometry = geometry_of(scenario, flow);
    const auto& g = geometry.fan;
    const double annulus = constant::pi * (g.radius * g.radius - g.hub_radius * g.hub_radius);
    std::vector<air::FlowLoss> losses{{"mesh", geometry.mesh_loss, vessel_area(scenario)},
                                      {"guard", g.guard_loss, annulus}};
    if (open > 0.0) losses.push_back({"vents", 1.0 / (discharge * discharge), open});
    try {
      flow = air::operating_point(fan,
                                  {losses, 0.0, vessel_area(scenario), geometry.tag_weight, geometry.density})
                 .flow;
    } catch (const InputError&) {
      return flow;  // the solver tells what is wrong with the whole vessel
    }
  }
  return flow;
}

SolvedReport report_of(const swirl_flow::SolvedVessel& vessel, const swirl_flow::VesselGeometry& geometry) {
  return {vessel.pressure_under_lid, vessel.side_gap,           vessel.lid,
          vessel.swirl_angle,        vessel.core_wind,          vessel.error,
          vessel.precession,         geometry.mesh_loss,        geometry.fan.guard_loss,
          vessel.settled.residual,   vessel.settled.iterations, vessel.warnings};
}

// What is kept of solved air, by name, in the order of writing.
template <class Use>
void each_number(SolvedReport& report, air::OperatingPoint& point, air::AirMapError& error, const Use& use) {
  use("flow", point.flow, "m3/s");
  use("fan_pressure", point.pressure, "Pa");
  use("tag_pressure", point.tag_pressure, "Pa");
  use("pressure_margin", point.pressure_margin, "1");
  use("flow_margin", point.flow_margin, "1");
  use("pressure_under_lid", report.pressure_under_lid, "Pa");
  use("side_gap_out", report.side_gap.out, "m3/s");
  use("side_gap_in", report.side_gap.in, "m3/s");
  use("lid_out", report.lid.out, "m3/s");
  use("lid_in", report.lid.in, "m3/s");
  use("swirl_angle", report.swirl_angle, "rad");
  use("core_speed", report.core_wind.speed, "m/s");
  use("core_band", report.core_wind.band, "m/s");
  use("flow_grid_error", report.error.flow, "1");
  use("pressure_grid_error", report.error.pressure_under_lid, "1");
  use("velocity_grid_error", report.error.velocity, "1");
  use("mesh_loss", report.mesh_loss, "1");
  use("guard_loss", report.guard_loss, "1");
  use("residual", report.residual, "1");
  use("map_velocity_error", error.velocity, "1");
  use("map_sigma_error", error.sigma, "1");
}

template <class Nodes, class Use>
void each_field(Nodes& nodes, const Use& use) {
  use("/nodes/stream_over_s", nodes.stream_over_s, "m3/s", "stream function over s = (r/R)^2, at even s");
  use("/nodes/turn_rate", nodes.turn_rate, "1/s", "azimuthal velocity over r, at even s");
  use("/nodes/sigma", nodes.sigma, "m/s",
      "standard deviation of each component of the turbulence, at even s");
  use("/nodes/epsilon_cbrt", nodes.epsilon_cbrt, "m2/3/s", "cube root of the dissipation rate, at even s");
}

std::optional<KeptAir> stored_air(const std::filesystem::path& path, const std::string& depends_on) {
  if (path.empty() || !std::filesystem::exists(path)) return std::nullopt;
  const store::Reader file(path, remedy);
  if (!file.has("/solved") || file.text("/", "depends_on") != depends_on) return std::nullopt;
  return read_kept_air(file);
}

AirState make_solved(const scenario::Scenario& scenario, const scenario::SolvedAir& given,
                     const std::filesystem::path& stored) {
  const Properties air(scenario);
  MapOrigin origin = MapOrigin::reused;
  auto kept = stored_air(stored, dependencies(scenario, given));
  if (!kept) {
    origin = MapOrigin::computed;
    const auto geometry = geometry_of(scenario);
    const auto vessel =
        swirl_flow::solve_vessel(geometry, air::FanCurve(given.fan.name, given.fan.curve), given.detail);
    kept = KeptAir{report_of(vessel, geometry), vessel.operating_point, swirl_flow::map_of(vessel).error(),
                   swirl_flow::nodes_of(vessel)};
  }
  air::AirMap map(0.5 * scenario.vessel.inner_diameter, scenario.vessel.height, kept->nodes, kept->error,
                  scenario.vessel.slope);
  const double flow = kept->point.flow;
  return {air.density,
          air.viscosity,
          flow,
          std::move(kept->point),
          SolvedSource{std::move(kept->report), std::move(kept->nodes), origin},
          std::move(map),
          std::nullopt};
}

// Values on an even grid, of a column its closed form.
air::AirTable table_of(const AirState& air, int r_nodes, int z_nodes) {
  if (const auto* column = std::get_if<air::Column>(&air.source))
    return air::tabulate(*column, r_nodes, z_nodes);
  air::AirTable table;
  const double widest = std::max(air.map.radius(), air.map.radius_at(air.map.height()));
  table.r = {0.0, widest / (r_nodes - 1), r_nodes};
  table.z = {0.0, air.map.height() / (z_nodes - 1), z_nodes};
  for (auto* values : {&table.u_r, &table.u_theta, &table.u_z, &table.kinetic_energy, &table.dissipation,
                       &table.stream_function}) {
    values->setZero(r_nodes, z_nodes);
  }
  for (int i = 0; i < r_nodes; ++i) {
    for (int j = 0; j < z_nodes; ++j) {
      const numeric::Vec3<double> place{table.r.at(i), 0.0, table.z.at(j)};
      // Nothing beyond a tapered wall.
      if (air.map.slope() != 0.0 && place.x > air.map.radius_at(place.z) * (1.0 + 1e-12)) continue;
      const auto sample = air.map.sample(place);
      table.u_r(i, j) = sample.u_W.x;
      table.u_theta(i, j) = sample.u_W.y;
      table.u_z(i, j) = sample.u_W.z;
      table.kinetic_energy(i, j) = 1.5 * sample.sigma * sample.sigma;
      table.dissipation(i, j) = std::pow(sample.epsilon_cbrt, 3);
      table.stream_function(i, j) = air.map.stream_function(place);
    }
  }
  return table;
}

}  // namespace

double AirState::mean_speed() const {
  if (const auto* column = std::get_if<air::Column>(&source)) return column->mean_speed();
  return flow / (constant::pi * map.radius() * map.radius());
}

air::CylindricalVelocity AirState::velocity(double r, double z) const {
  if (const auto* column = std::get_if<air::Column>(&source)) return column->velocity(r, z);
  const auto u = map.sample(numeric::Vec3<double>{r, 0.0, z}).u_W;
  return {u.x, u.y, u.z};
}

double AirState::gust_length() const {
  constexpr int s_places = 24, z_places = 48;
  double energy = 0.0, sum = 0.0;
  for (int i = 0; i < s_places; ++i) {
    for (int j = 0; j < z_places; ++j) {
      const double z = map.height() * (j + 0.5) / z_places, R = map.radius_at(z);
      const double r = R * std::sqrt((i + 0.5) / s_places), wider = R / map.radius();
      const auto sample = map.sample(numeric::Vec3<double>{r, 0.0, z});
      if (sample.inverse_lagrangian_time <= 0.0) continue;
      const double variance = wider * wider * sample.sigma * sample.sigma;
      energy += variance;
      sum += variance * sample.sigma / sample.inverse_lagrangian_time;
    }
  }
  return energy > 0.0 ? sum / energy : 0.0;
}

double tag_weight(const scenario::Scenario& scenario) {
  double weight = 0.0;
  for (const auto& tag : scenario.tags) {
    if (!tag.hold && tag.body.kind == scenario::BodyKind::solid)
      weight += tag.count * tag.body.mass * constant::gravity;
  }
  return weight;
}

swirl_flow::VesselGeometry geometry_of(const scenario::Scenario& scenario, double flow) {
  const auto& given = std::get<scenario::SolvedAir>(scenario.air.source);
  const Properties air(scenario);
  swirl_flow::VesselGeometry geometry{};
  geometry.radius = 0.5 * scenario.vessel.inner_diameter;
  geometry.height = scenario.vessel.height;
  geometry.slope = scenario.vessel.slope;
  geometry.inlet_height = given.inlet_height;
  auto& fan = geometry.fan;
  fan.radius = 0.5 * given.fan_diameter;
  fan.hub_radius = 0.5 * given.hub_diameter;
  fan.swirl = swirl_flow::FanSwirl::none;
  if (const auto* angle = std::get_if<scenario::FanByAngle>(&given.swirl)) {
    fan.swirl = swirl_flow::FanSwirl::angle;
    fan.swirl_angle = angle->angle;
  } else if (const auto* work = std::get_if<scenario::FanByWork>(&given.swirl)) {
    fan.swirl = swirl_flow::FanSwirl::work;
    fan.angular_speed = work->angular_speed;
    fan.efficiency = work->efficiency;
  }
  const auto loss = [&](const std::optional<scenario::Screen>& screen, double area) {
    if (!screen || flow <= 0.0) return 0.0;
    if (const auto* given_loss = std::get_if<double>(&*screen)) return *given_loss;
    return air::screen_loss(std::get<air::WireMesh>(*screen), flow / area, air.viscosity / air.density);
  };
  fan.guard_loss =
      loss(given.guard, constant::pi * (fan.radius * fan.radius - fan.hub_radius * fan.hub_radius));
  geometry.mesh_loss = loss(given.mesh, vessel_area(scenario));
  if (given.fins) geometry.fins.push_back(*given.fins);
  geometry.side_gap = given.side_gap;
  geometry.side_gap_discharge = given.edge == scenario::Edge::rounded ? 0.98 : 0.61;
  geometry.lid_vent = given.lid_vent;
  geometry.tag_weight = tag_weight(scenario);
  geometry.density = air.density;
  geometry.dynamic_viscosity = air.viscosity;
  return geometry;
}

swirl_flow::VesselGeometry geometry_of(const scenario::Scenario& scenario) {
  return geometry_of(scenario, flow_by_losses(scenario, std::get<scenario::SolvedAir>(scenario.air.source)));
}

KeptAir read_kept_air(const store::Reader& file) {
  KeptAir kept{};
  each_number(kept.report, kept.point, kept.error, [&](const char* name, double& value, const char*) {
    value = read_plausible(file, "/solved", name);
  });
  kept.report.iterations = static_cast<int>(file.integer("/solved", "iterations"));
  for (std::int64_t i = 0; i < file.integer("/solved", "warnings"); ++i)
    kept.report.warnings.push_back(file.text("/solved", fmt::format("warning_{}", i + 1)));
  for (std::int64_t i = 0; i < file.integer("/solved", "losses"); ++i)
    kept.point.loss_pressures.emplace_back(
        file.text("/solved", fmt::format("loss_{}", i + 1)),
        read_plausible(file, "/solved", fmt::format("loss_{}_pressure", i + 1)));
  if (file.integer("/solved", "precesses") != 0)
    kept.report.precession = {read_plausible(file, "/solved", "precession_frequency"),
                              read_plausible(file, "/solved", "precession_lowest"),
                              read_plausible(file, "/solved", "precession_highest")};
  each_field(kept.nodes, [&](const char* name, Eigen::MatrixXd& values, const char*, const char*) {
    values = read_matrix(file, name);
    file.expect(values.rows() >= 4 && values.cols() >= 4 &&
                    values.rows() == kept.nodes.stream_over_s.rows() &&
                    values.cols() == kept.nodes.stream_over_s.cols(),
                std::string(name) + " does not fit the other nodes");
  });
  return kept;
}

void write_kept_air(store::Writer& file, const KeptAir& air) {
  KeptAir kept = air;  // each_number() also reads
  each_field(air.nodes,
             [&](const char* name, const Eigen::MatrixXd& values, const char* unit, const char* meaning) {
               write_matrix(file, name, values, {unit, std::string(meaning) + ", [s][z]"});
             });
  file.set_integer("/solved", "iterations", kept.report.iterations);
  each_number(kept.report, kept.point, kept.error, [&](const char* name, double& value, const char* unit) {
    file.set_number("/solved", name, value, unit);
  });
  const auto& warnings = kept.report.warnings;
  file.set_integer("/solved", "warnings", static_cast<std::int64_t>(warnings.size()));
  for (std::size_t i = 0; i < warnings.size(); ++i)
    file.set_text("/solved", fmt::format("warning_{}", i + 1), warnings[i]);
  const auto& losses = kept.point.loss_pressures;
  file.set_integer("/solved", "losses", static_cast<std::int64_t>(losses.size()));
  for (std::size_t i = 0; i < losses.size(); ++i) {
    file.set_text("/solved", fmt::format("loss_{}", i + 1), losses[i].first);
    file.set_number("/solved", fmt::format("loss_{}_pressure", i + 1), losses[i].second, "Pa");
  }
  const auto& precession = kept.report.precession;
  file.set_integer("/solved", "precesses", precession ? 1 : 0);
  if (precession) {
    file.set_number("/solved", "precession_frequency", precession->frequency, "Hz");
    file.set_number("/solved", "precession_lowest", precession->lowest, "Hz");
    file.set_number("/solved", "precession_highest", precession->highest, "Hz");
  }
}

AirState make_air(const scenario::Scenario& scenario, const std::filesystem::path& stored) {
  AirState air = std::visit(
      [&](const auto& given) {
        using Given = std::decay_t<decltype(given)>;
        if constexpr (std::is_same_v<Given, scenario::ColumnAir>) {
          return make_column(scenario, given);
        } else if constexpr (std::is_same_v<Given, scenario::GriddedAir>) {
          return make_gridded(scenario, given);
        } else {
          return make_solved(scenario, given, stored);
        }
      },
      scenario.air.source);
  if (const auto& precession = scenario.air.precession)
    air.precession = {precession->speed,
                      air::precession_frequency(precession->strouhal_number, air.mean_speed(),
                                                scenario.vessel.inner_diameter)};
  return air;
}

MeanAir mean_air(const scenario::Scenario& scenario) {
  if (const auto* given = std::get_if<scenario::ColumnAir>(&scenario.air.source))
    return [column = blown_column(scenario, *given).column](double r, double z) {
      return column.velocity(r, z);
    };
  return [air = make_air(scenario)](double r, double z) { return air.velocity(r, z); };
}

void write_air(const AirState& air, const scenario::Scenario& scenario, const std::string& program_version,
               const std::filesystem::path& path, const store::Run& run) {
  const auto* solved = std::get_if<SolvedSource>(&air.source);
  if (solved != nullptr && solved->origin == MapOrigin::reused && std::filesystem::exists(path)) return;
  constexpr int r_nodes = 49, z_nodes = 97;
  const auto table = table_of(air, r_nodes, z_nodes);
  store::Writer file(path, {program_version, scenario.text, scenario.hash, scenario.flight.seed});
  write_axis(file, "/axes/r", table.r,
             air.map.slope() == 0.0
                 ? "distance from the vessel's axis"
                 : "distance from the vessel's axis; values are 0 beyond the tapered wall");
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
  if (const auto* gridded = std::get_if<GriddedSource>(&air.source)) {
    const auto& change = gridded->change;
    file.set_number("/check", "projection_change_rms", change.rms, "1");
    file.set_number("/check", "projection_change_largest", change.largest, "1");
    file.set_number("/check", "projection_change_r", change.r, "m");
    file.set_number("/check", "projection_change_z", change.z, "m");
    file.set_number("/check", "divergence_before", gridded->divergence_before, "1");
    file.set_text("/check", "grid_file_sha256",
                  file_digest(std::get<scenario::GriddedAir>(scenario.air.source).file));
  }
  if (solved != nullptr) {
    file.set_text("/", "depends_on",
                  dependencies(scenario, std::get<scenario::SolvedAir>(scenario.air.source)));
    write_kept_air(file, {solved->report, *air.fan_point, air.map.error(), solved->nodes});
  }
  if (air.precession) {
    file.set_number("/precession", "speed", air.precession->speed, "m/s");
    file.set_number("/precession", "frequency", air.precession->frequency, "Hz");
  }
  file.commit(run);
}

}  // namespace driftglow::maps
