#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "models/air/air_map.hpp"
#include "models/coil/flux_linkage.hpp"
#include "models/coupling/tag_impedance.hpp"
#include "models/driver/tolerance.hpp"
#include "models/motion/body.hpp"
#include "models/motion/forces.hpp"
#include "sim/flight/built_tag.hpp"
#include "sim/flight/energy.hpp"
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

  coil::FluxMoments moments;                  // area 1 m2 and no curvature for a plain threshold on B.n
  coil::FluxRuleChoice flux_rule;             // curvature without error in a uniform field
  double linkage_max;                         // Wb or T, the most that a tag can see
  std::optional<double> threshold;            // T, plain threshold instead of a circuit
  std::optional<TankPlan> tank;               // with a circuit
  std::vector<LedPlan> leds;                  // one a fit, with a circuit
  std::vector<receiver::GlowCurve> curves{};  // of the nominal tank, one a fit, to twice the largest EMF
  std::vector<PowerTable> power{};            // of those, likewise
  std::optional<std::size_t> family;          // with a circuit: its number in Plan::families
  std::vector<std::string> fits;              // names
  std::vector<int> pairs;                     // those fits that are antiparallel pairs
  std::vector<int> carried;  // which fit each tag carries (for totals of light and the number lit)

  // Whether its tags fly as bodies: neither held nor tracers.
  bool solid() const { return !hold && kind == scenario::BodyKind::solid; }
  int fit_count() const { return static_cast<int>(fits.size()); }
  // Slots of the step (arrays.hpp) that a tag has: one a fit, then the second LEDs of `pairs`.
  int slot_count() const { return static_cast<int>(fits.size() + pairs.size()); }
  // Among them that of a fit's second LED; empty for a single one.
  std::optional<int> second_slot(int fit) const;
};

// Time steps in whole numbers.
struct Clock {
  double step;                                          // s
  std::int64_t warmup;                                  // steps
  std::int64_t duration;                                // steps after warm-up
  std::int64_t place_every, pinned_every, trace_every;  // steps between samples
};

// How far coupled tags see each other, and the LEDs' fundamentals that all built tags share.
struct CouplingPlan {
  double reach;                                             // m
  std::vector<std::vector<coupling::LedFundamental>> leds;  // [design][fit]; empty: the design is not coupled
};

inline constexpr int place_r_bins = 16, place_z_bins = 32;
inline constexpr double place_interval = 0.01, pinned_interval = 0.05, pinned_window = 0.5;  // s

// What makes the drive of a replicate from its draw and the tags that load it, where that differs from the
// drive as computed. Several circuits: all move as the first does.
struct BuiltDrive {
  maps::Driver driver;
  driver::Surroundings surroundings;
  driver::TankTolerance tolerance;
  // voltage_fed_series with one circuit: what all tags on average reflect into it; else none, the coil
  // current of the other drivers hardly knows of the tags.
  driver::ReflectedImpedance tags;
};

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
  std::optional<CouplingPlan> coupling{};   // of tags with each other; absent: neglected
  std::optional<BuiltDrive> built_drive{};  // absent: every replicate's drive is as computed
  std::optional<DrivePower> power{};        // of the drive as computed; absent: nothing draws power

  // |B| [T peak] at p_W, the larger semi-axis of a turning field.
  double flux_density_peak(const numeric::Vec3<double>& p_W) const {
    return drive.flux_density_peak({p_W.x, p_W.y, p_W.z});
  }
};

// A tag's body as the motion takes it. Throws InputError.
motion::Body body_of(const scenario::Body& given);

// A design's electrical side at the drive's frequency.
struct Electrical {
  coil::WoundCoil wound;
  coil::FluxMoments moments;
  TankPlan tank;
  std::vector<LedPlan> leds;  // one a fit
};
// What takes longest of a close winding is its resistance; left out it is 0.
enum class WireLoss { computed, left_out };
// frequency > 0 [Hz]; the design must have a circuit.
Electrical electrical_of(const scenario::Scenario& scenario, const scenario::TagDesign& tag, double frequency,
                         WireLoss loss = WireLoss::computed);

// The drive of a replicate.
struct ReplicateDrive {
  DriveDraw draw;  // of a drive without tolerances that of nothing
  std::optional<DrivePower> power;
};
ReplicateDrive built_drive(const Plan& plan, int replicate);

Plan make_plan(const scenario::Scenario& scenario, maps::AirState air, maps::DriveState drive);

}  // namespace driftglow::flight
