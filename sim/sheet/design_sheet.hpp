#pragma once

#include <Eigen/Core>
#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "models/coil/self_capacitance.hpp"
#include "models/coil/series_circuit.hpp"
#include "models/coupling/neighbours.hpp"
#include "models/driver/losses.hpp"
#include "models/driver/operating_point.hpp"
#include "models/driver/tolerance.hpp"
#include "models/receiver/glow_curve.hpp"
#include "models/receiver/tank.hpp"
#include "models/receiver/winding_aid.hpp"
#include "models/safety/exposure.hpp"
#include "models/safety/radiated.hpp"
#include "models/safety/touch.hpp"
#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"
#include "sim/library/preferred_values.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/sheet/air_part.hpp"

// All that a scenario tells without a flight, as plain numbers in SI.
namespace driftglow::sheet {

// What bench meters read on a winding by itself, at the surroundings' temperature.
struct MeterReading {
  double frequency;   // Hz
  double inductance;  // H
  double resistance;  // ohm, in series
};
struct BenchWinding {
  double resistance_dc;                  // ohm
  std::array<MeterReading, 3> readings;  // at bench_frequencies
};
inline constexpr std::array<double, 3> bench_frequencies = {1e3, 1e4, 1e5};  // Hz, common meters' own

// Capacitors to buy for a wanted capacitance.
struct CapacitorAid {
  double wanted;  // F
  struct Choice {
    receiver::CapacitorChoice capacitors;
    double resonance_error;  // 1, of the tank's resonance with them
  } single, pair;
};
inline constexpr library::Series capacitor_series = library::Series::e12;

struct DriveCoil {
  std::string name;
  double turns;  // 1
  int layers;
  double wire_length;             // m
  double copper_mass;             // kg
  double resistance_dc;           // ohm, at the surroundings' temperature
  double outer_radius;            // m
  double loss;                    // W, in its copper
  driver::CopperUse copper;       // current, temperature, ampacity
  std::optional<int> most_turns;  // that fit about its centre before the vessel's end or half-way to the next
};

// Passive metal in the coils' field.
struct MetalPart {
  std::string name;
  double current_peak;  // A, in its loop; the largest of a cage's meshes
  double loss;          // W
};

// Two circuits of their own driver each.
struct CircuitPair {
  std::string first, second;
  double coupling;  // 1, k
};
inline constexpr double caution_circuit_coupling = 0.02;

// What the supply gives and the coils carry with these tags in the vessel.
struct SupplyPoint {
  std::optional<double> supply_current;  // A; empty with a given coil current
  std::optional<double> supply_power;    // W
  double current_peak;                   // A, in the coils
  double frequency;                      // Hz
  double tag_power;                      // W, drawn by all tags together
};
// Each circuit by itself: tags that two circuits light load either less than said here.
struct TagDraw {
  SupplyPoint empty;                                 // no tags
  SupplyPoint unlit;                                 // all tags dark: the most that they take
  SupplyPoint lit;                                   // tags with their LEDs
  enum class Resonance { single, split } resonance;  // split: more than one frequency is possible
};

struct DriveCircuit {
  std::string name;
  std::vector<DriveCoil> coils;
  driver::OperatingPoint point;
  driver::Losses losses;
  double bandwidth;  // Hz, frequency/Q of the coils
  BenchWinding bench;
  double self_capacitance;  // F, estimate, as if across all coils
  std::optional<coil::SelfResonance> self_resonance;
  std::optional<CapacitorAid> capacitor;
  std::optional<TagDraw> draw;                        // with tags that carry a circuit
  std::optional<driver::TankSpread> spread;           // over the drive's tolerances, if there are any
  double reflected_inductance, reflected_resistance;  // H, ohm, that passive metal adds
  std::optional<double>
      small_choke;  // H, below which the real peak is higher than computed; only where it is
  safety::Touch touch;
};

// Amplitudes |B| [T peak] without tags.
struct Field {
  double frequency;  // Hz
  double centre;     // T peak, on the axis at half height
  std::array<double, 3>
      percentiles;   // T peak, below which 5, 50 and 95 % of the volume of the tags' reach lie
  double largest;    // T peak, in the reach, of the samples
  double map_error;  // 1, of |B|; 0 in a uniform field
  struct Measured {
    std::size_t readings;
    double misfit, largest_misfit;  // 1, as of coil::MeasuredField
    std::array<double, 3> worst;    // m
    double divergence_before;       // 1
    std::optional<std::string> remedy;
  };
  std::optional<Measured> measured;
};

// One turn of search_coil_diameter, turned for the largest reading.
struct SearchCoilReading {
  std::string place;
  Eigen::Vector3d centre;  // m
  double flux_density;     // T peak, mean over the turn
  double voltage_rms;      // V
};
inline constexpr double search_coil_diameter = 0.040;  // m

// Along the axis of the uppermost coil, outward from its plane.
struct FirstLight {
  std::string tag, fit, coil;
  std::optional<double> distance;  // m, at which a tag held along the axis first lights; empty: nowhere there
};

struct Airflow {
  double flow;        // m3/s
  double mean_speed;  // m/s, over the cross-section
  double axis_speed;  // m/s, up, on the axis at half height
  double density;     // kg/m3
  std::optional<air::OperatingPoint> fan;
};

struct Tank {
  coil::Winding winding;
  double wire_length;             // m
  double copper_mass;             // kg
  double inductance, resistance;  // H, ohm, at the drive's frequency
  coil::ResistanceTrust resistance_trust;
  double capacitance;                             // F
  std::optional<double> capacitor_rated_voltage;  // V, direct
  double resonance_frequency;                     // Hz, with the first fit's junction capacitance
  double detuning;                                // 1, resonance over the drive's frequency, less 1
  receiver::SharpnessFacts sharpness;
  double bandwidth;         // Hz, resonance/Q
  double area_turns;        // m2
  double self_capacitance;  // F, estimate
  coil::SelfResonance self_resonance;
  std::optional<CapacitorAid> capacitor;                  // that tunes it to the drive
  std::optional<int> most_turns;                          // that fit into the body's sphere, full layers
  std::optional<coupling::NeighbourCoupling> neighbours;  // of tags that can touch
  enum class Neighbours { neglected, coupled } in_flight;
  coil::FluxRuleChoice flux_rule;
  BenchWinding bench;
};

// A built tag counts as good when its threshold EMF is off the nominal one by no more than this [1].
inline constexpr double yield_band = 0.10;

// One emitter on one design; without a circuit only the name, the threshold and the share.
struct Fit {
  std::string name;
  struct Led {
    std::string colour;
    receiver::LedParameters parameters;
    double worst_residual;      // V
    bool point_near_threshold;  // a data-sheet point within a factor of ten of on_mean_current
    double on_mean_current;     // A
    double threshold_emf;       // V peak; infinite when not reached up to curve's end
    double over_rating_emf;     // V peak; infinite likewise
    double emf_largest;         // V peak, of the samples
    double mean_current_rating, peak_current_rating;  // A
    double reverse_voltage_rating;                    // V
    receiver::OperatingPoint at_largest;              // at emf_largest
    std::vector<receiver::OperatingPoint> curve;      // EMF rising
    std::optional<receiver::ThresholdSpread> built;   // over the tolerances, if there are any
    struct Antiparallel {
      std::string emitter;
      std::string colour;
      receiver::LedParameters parameters;
      double worst_residual;                            // V
      bool point_near_threshold;                        // as above
      double on_weight;                                 // 1, as of flight::LedPlan
      double mean_current_rating, peak_current_rating;  // A
      double reverse_voltage_rating;                    // V
    };
    std::optional<Antiparallel> antiparallel;  // the second LED of a pair
  };
  std::optional<Led> led;
  double on_flux_density;    // T peak along the axis of the receiver
  double share_on;           // 1, of places and directions
  double share_over_rating;  // 1
};

struct Lift {
  double terminal_speed_along;   // m/s, falling along its axis
  double terminal_speed_across;  // m/s, falling across it
};

struct Design {
  std::string name;
  int count;
  double mass;  // kg
  std::vector<scenario::Part> parts;
  std::optional<Tank> tank;
  std::optional<Lift> lift;  // of a tag that flies
  std::vector<Fit> fits;
};

struct ExposureLevel {
  safety::Caution level;
  // m from coils and vessel, beyond which the field is nowhere above the level; empty: not within
  // exposure_farthest, or the sources are not known.
  std::optional<double> distance;
};
struct Exposure {
  std::optional<double> clearance;    // m, of the surface from vessel and coils; empty: the same everywhere
  bool inside_only;                   // known in the vessel alone, and stronger outside
  double flux_density_rms;            // T, the largest on it
  std::vector<ExposureLevel> levels;  // strictest first
  std::optional<std::array<safety::RadiatedField, 3>> radiated;
};
inline constexpr double exposure_clearance = 0.010, exposure_farthest = 10.0;  // m

struct DesignSheet {
  std::string title;
  Field field;
  std::vector<DriveCircuit> circuits;  // with coils
  std::vector<MetalPart> metal;
  std::vector<CircuitPair> pairs;  // of circuits, each once
  std::vector<SearchCoilReading> search_coil;
  std::vector<FirstLight> first_light;
  Airflow air;
  AirPart air_part;
  std::vector<Design> designs;
  Exposure exposure;
  std::vector<std::string> cautions;  // sentences, danger to people first
};

// Shares: 16 384 places uniform in the tags' reach, each with an axis, all directions alike, through the
// linkage rule of the flight and the nominal tank (no tolerance drawn): within about 0.5 % of the exact
// share. Tags really gather where the air takes them: the flight's duty differs.
DesignSheet make_sheet(const scenario::Scenario& scenario, const flight::Plan& plan);

// Its cautions alone, for a flight: without what takes longest, above all the spread of the built tags.
std::vector<std::string> make_cautions(const scenario::Scenario& scenario, const flight::Plan& plan);

// How a flown tag flashes.
struct Flashing {
  double per_minute;                          // 1/min, a tag
  flight::SpellCounts on_spells, off_spells;  // of all tags and replicates
};
// Share of the flashes [1] that follow the one before within the sensitive band (flashing.hpp); on and off
// spells taken as independent of each other (estimate), each at the middle of its bin.
double sensitive_share(const Flashing& flashing);

// Sentence about flashing light where a tag flashes faster than three times in a second, or a hundredth of
// its flashes and more lie in the sensitive band; else nothing.
std::optional<std::string> flash_caution(const std::string& tag, const Flashing& flashing);

// For terminals: at most 100 columns, SI prefixes.
std::string sheet_text(const DesignSheet& sheet);

// Every number, SI, infinite ones as null.
nlohmann::ordered_json sheet_json(const DesignSheet& sheet);

}  // namespace driftglow::sheet
