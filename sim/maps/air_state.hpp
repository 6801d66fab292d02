#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "models/air/air_map.hpp"
#include "models/air/gridded.hpp"
#include "models/air/operating_point.hpp"
#include "models/air/precession.hpp"
#include "models/swirl_flow/vessel.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::maps {

// What the solver tells beside the map.
struct SolvedReport {
  double pressure_under_lid;  // Pa
  swirl_flow::VentFlow side_gap, lid;
  double swirl_angle;  // rad, behind the fan
  swirl_flow::CoreWind core_wind;
  swirl_flow::GridError error;
  std::optional<swirl_flow::Precession> precession;  // to be expected, above 45 degrees of swirl
  double mesh_loss, guard_loss;                      // 1, as used
  double residual;                                   // 1, of the settled equations
  int iterations;                                    // on the finer grid
  std::vector<std::string> warnings;
};
struct SolvedSource {
  SolvedReport report;
  air::AirNodes nodes;  // of the map
  MapOrigin origin;
};

struct GriddedSource {
  air::ProjectionChange change;
  double divergence_before;  // 1, GriddedAir
  double largest_speed;      // m/s, in the grid
};

// The air of a scenario: flow, where it comes from, map.
struct AirState {
  double density;                                // kg/m3
  double dynamic_viscosity;                      // Pa s
  double flow;                                   // m3/s, up through the mesh
  std::optional<air::OperatingPoint> fan_point;  // with a fan
  std::variant<air::Column, GriddedSource, SolvedSource> source;
  air::AirMap map;
  std::optional<air::Precession> precession;

  double mean_speed() const;  // m/s, flow over the cross-section at the mesh
  // Mean velocity at (r, z) [m], of a column its closed form.
  air::CylindricalVelocity velocity(double r, double z) const;
  // Length of the gusts [m], sigma T_L weighted by their energy over the vessel; 0 without turbulence.
  double gust_length() const;
};

// Weight [N] of the tags that fly, which the fan carries.
double tag_weight(const scenario::Scenario& scenario);

// The vessel that the solver sees. K of wire meshes at the speed of `flow` [m3/s].
swirl_flow::VesselGeometry geometry_of(const scenario::Scenario& scenario, double flow);
// The same with the K that belongs to the flow that results, and the flow by the losses alone.
swirl_flow::VesselGeometry geometry_of(const scenario::Scenario& scenario);

// Solved air is taken from `stored` where that file exists and everything it depends on is the same. Throws
// InputError when the fan cannot carry the tags, values do not go together, the flow does not settle, or a
// file is not what it should be.
AirState make_air(const scenario::Scenario& scenario, const std::filesystem::path& stored = {});

// Mean velocity at (r, z) [m]; of a column without a map. Throws as make_air().
using MeanAir = std::function<air::CylindricalVelocity(double r, double z)>;
MeanAir mean_air(const scenario::Scenario& scenario);

// air.h5 of interface.md: axes, mean velocity, k, epsilon, stream function. Nothing is written where the map
// was reused from `path`.
void write_air(const AirState& air, const scenario::Scenario& scenario, const std::string& program_version,
               const std::filesystem::path& path, const store::Run& run);

}  // namespace driftglow::maps
