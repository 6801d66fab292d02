#pragma once

#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "models/coil/series_circuit.hpp"
#include "models/driver/operating_point.hpp"
#include "models/receiver/glow_curve.hpp"
#include "models/safety/exposure.hpp"
#include "sim/flight/plan.hpp"
#include "sim/scenario/scenario.hpp"

// All that a scenario tells without a flight, as plain numbers in SI.
namespace driftglow::sheet {

// What bench meters read on a winding by itself, at room temperature.
struct BenchWinding {
  double inductance;  // H, at 1 kHz
  double resistance;  // ohm, dc
};
inline constexpr double bench_frequency = 1e3;  // Hz

struct DriveCoil {
  std::string name;
  double turns;  // 1
  int layers;
  double wire_length;         // m
  double copper_mass;         // kg
  double outer_radius;        // m
  double copper_temperature;  // K
};

struct DriveCircuit {
  std::vector<DriveCoil> coils;
  driver::OperatingPoint point;
  BenchWinding bench;  // all coils in series
  double map_error;    // 1, of |B|
};

// Amplitudes |B| [T peak] without tags.
struct Field {
  double frequency;  // Hz
  double centre;     // T peak, on the axis at half height
  std::array<double, 3>
      percentiles;             // T peak, below which 5, 50 and 95 % of the volume of the tags' reach lie
  double largest;              // T peak, in the reach, of the samples
  double search_coil_voltage;  // V rms, one turn of search_coil_area at the centre, across the field
};
inline constexpr double search_coil_area = 1e-3;  // m2

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
  double capacitance;          // F
  double Q;                    // 1, unloaded, at the drive's frequency
  double resonance_frequency;  // Hz, with the first fit's junction capacitance
  double detuning;             // 1, resonance over the drive's frequency, less 1
  double area_turns;           // m2
  double neighbour_coupling;   // 1, k of two such coils on one axis with the tags touching
  coil::FluxRuleChoice flux_rule;
  BenchWinding bench;
};

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

struct Exposure {
  double clearance;                     // m, of the surface from vessel and coils
  double flux_density_rms;              // T, the largest on it
  std::vector<safety::Caution> levels;  // strictest first
};
inline constexpr double exposure_clearance = 0.010;  // m

struct DesignSheet {
  std::string title;
  Field field;
  std::optional<DriveCircuit> drive;  // with coils
  Airflow air;
  std::vector<Design> designs;
  Exposure exposure;
  std::vector<std::string> cautions;  // sentences
};

// Shares: 4096 places uniform in the tags' reach, each with an axis, all directions alike, through the
// linkage rule of the flight and the nominal tank (no tolerance drawn): within about 0.5 % of the exact
// share. Tags really gather where the air takes them: the flight's duty differs.
DesignSheet make_sheet(const scenario::Scenario& scenario, const flight::Plan& plan);

// Largest flux density [T rms] on the closed cylinder that stands `clearance` [m] off the vessel and all
// coils, side and both ends, at points 2 mm apart; the coils' own currents only, no metal nearby.
double surface_flux_density_rms(const coil::SeriesCircuit& coils, const scenario::Vessel& vessel,
                                double current_peak, double clearance);

// Sentence about flashing light where a flown tag flashes faster than three times in a second, else nothing.
std::optional<std::string> flash_caution(const std::string& tag, double flashes_per_minute);

// For terminals: at most 100 columns, SI prefixes.
std::string sheet_text(const DesignSheet& sheet);

// Every number, SI, infinite ones as null.
nlohmann::ordered_json sheet_json(const DesignSheet& sheet);

}  // namespace driftglow::sheet
