#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "models/air/air_map.hpp"
#include "models/coil/flux_linkage.hpp"
#include "models/motion/body.hpp"
#include "models/motion/forces.hpp"
#include "sim/flight/built_tag.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::flight {

// A tag design, ready to fly. Fits are numbered as in the scenario.
struct DesignPlan {
  std::string name;
  int count;
  int first_tag;  // number of its first tag in the vessel
  scenario::BodyKind kind;
  motion::Body body;
  motion::BodyTerms terms;
  std::optional<scenario::Hold> hold;

  coil::FluxMoments moments;          // area 1 m2 and no curvature for a plain threshold on B.n
  coil::FluxRuleChoice flux_rule;     // curvature without error in a uniform field
  double linkage_max;                 // Wb or T, the most that a tag can see
  std::optional<double> threshold;    // T, plain threshold instead of a circuit
  std::optional<TankPlan> tank;       // with a circuit
  std::vector<LedPlan> leds;          // one a fit, with a circuit
  std::optional<std::size_t> family;  // with a circuit: its number in Plan::families
  std::vector<std::string> fits;      // names
  std::vector<int> carried;           // which fit each tag carries (for totals of light and the number lit)

  int fit_count() const { return static_cast<int>(fits.size()); }
};

// Time steps in whole numbers.
struct Clock {
  double step;                                          // s
  std::int64_t warmup;                                  // steps
  std::int64_t duration;                                // steps after warm-up
  std::int64_t place_every, pinned_every, trace_every;  // steps between samples
};

inline constexpr int place_r_bins = 16, place_z_bins = 32;
inline constexpr double place_interval = 0.01, pinned_interval = 0.05, pinned_window = 0.5;  // s

// Everything a replicate needs; const while flying.
struct Plan {
  std::uint64_t seed;
  motion::Enclosure vessel;
  Clock clock;
  double omega;  // rad/s, of the drive
  std::vector<DesignPlan> designs;
  std::vector<GlowFamilies> families;  // of the designs with a circuit; solve_all() before the flight
  int tags;                            // in the vessel
  int traced_replicates;
  std::vector<std::string> colours;  // of the carried emitters, in order of first use
  maps::AirState air;
  maps::DriveState drive;

  double flux_density_peak(double r,
                           double z) const;  // T, |B| at a place (the larger axis of a turning field)
};

Plan make_plan(const scenario::Scenario& scenario, maps::AirState air, maps::DriveState drive);

}  // namespace driftglow::flight
