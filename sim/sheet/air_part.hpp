#pragma once

#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/flight/plan.hpp"
#include "sim/scenario/scenario.hpp"

// What the air does to the tags, from the mean air alone.
namespace driftglow::sheet {

inline constexpr std::array<const char*, 3> air_heights{"low", "middle", "top"};
inline constexpr std::array<const char*, 3> air_radii{"axis", "half radius", "wall"};

// Where tags of a design are after `fate_time` from places spread evenly over their room, at rest, alone and
// without gusts.
struct Fate {
  std::string design;
  double terminal_speed;            // m/s, the mean over its directions in still air
  double rises;                     // 1, share of the room where the air rises faster than that
  double drifts, lid, floor, wall;  // 1, shares: free, pressed to lid, floor or wall; they sum to 1
};
inline constexpr double fate_time = 8.0;  // s

// The vessel solved again with one thing changed.
struct AirVariant {
  std::string change;
  std::string fault;           // why it has no solution; else empty
  double flow;                 // 1, change of the flow
  double pressure_under_lid;   // Pa, of the variant
  double core_speed;           // m/s, up, on the axis at half height
  std::vector<double> drifts;  // 1, by design as `fates`, of the variant
};

struct AirPart {
  std::string source;
  std::array<std::array<double, 3>, 3> up;  // m/s, u_z in the middle of each third, [height][radius]; the
                                            // wall's at 0.9 of the radius
  std::vector<Fate> fates;                  // of designs that fly
  std::vector<std::pair<std::string, double>> outflow;  // m3/s, by vent, net
  std::optional<maps::GriddedSource> gridded;
  std::optional<maps::SolvedReport> solved;
  std::optional<air::Precession> precession;
  double gust_length;                                      // m
  std::vector<std::pair<std::string, double>> gusts_left;  // 1, by design, factor on sigma where averaged
  std::vector<AirVariant> variants;                        // of solved air, see air_variants()
  bool no_flow;
};

struct Design;

// designs: as plan.designs.
AirPart air_part(const scenario::Scenario& scenario, const flight::Plan& plan,
                 const std::vector<Design>& designs);

// With the vent opened by half and with the lid lifted by 5 mm, on the quick grid, against the vessel as it
// is on the same grid: about a second. Empty for other sources.
std::vector<AirVariant> air_variants(const scenario::Scenario& scenario, const flight::Plan& plan,
                                     const std::vector<Design>& designs);

// Labels and texts for the sheet; a tilde is a blank that holds together.
std::vector<std::pair<std::string, std::string>> air_entries(const AirPart& part,
                                                             const std::optional<air::OperatingPoint>& fan);
nlohmann::ordered_json air_json(const AirPart& part);
std::vector<std::string> air_cautions(const scenario::Scenario& scenario, const AirPart& part);

}  // namespace driftglow::sheet
