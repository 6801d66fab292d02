#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "models/air/column.hpp"
#include "models/air/operating_point.hpp"
#include "models/air/screen_loss.hpp"
#include "models/coil/coil_system.hpp"
#include "models/coil/shorted_turn.hpp"
#include "models/coil/winding.hpp"
#include "models/driver/operating_point.hpp"
#include "models/driver/tolerance.hpp"
#include "models/receiver/capacitor_class.hpp"
#include "models/swirl_flow/vessel.hpp"

// The scenario as read: plain values, SI, every one already checked on its own and against the others by the
// reader. Defaults stand in the key table (key_table.cpp), not here.
namespace driftglow::scenario {

struct Ambient {
  double temperature;            // K
  double pressure;               // Pa
  double threshold_illuminance;  // lx at the eye
  double viewing_distance;       // m
};

struct Vessel {
  double inner_diameter;  // m, at the floor mesh
  double height;          // m
  double slope = 0.0;     // 1, dR/dz of the wall, up to the lid

  double radius_at(double z) const { return 0.5 * inner_diameter + slope * z; }
  double widest_radius() const { return radius_at(slope > 0.0 ? height : 0.0); }
  double narrowest_radius() const { return radius_at(slope < 0.0 ? height : 0.0); }
};

// What the models define stands there once.
using air::LidOpening;
using air::SideVents;
using Loss = air::FlowLoss;
using coil::Connection;
using coil::Winding;
using coil::Wire;
using driver::Chokes;
using driver::CurrentFedPushPull;
using driver::GivenCurrent;
using driver::VoltageFedSeries;

struct Coil {
  std::string name;
  std::string circuit;
  std::array<double, 3> centre;  // m, middle of the winding in the vessel's frame
  std::array<double, 3>
      axis;  // unit vector; [0, 0, 1] where the coil lies along the vessel's axis, either way
  Winding winding;
  int sense;  // +1 or -1, about the axis
};

struct Circuit {
  std::string name;
  Connection connection;
  double phase;                       // rad, of its current
  std::optional<double> capacitance;  // F; absent: the driver's
  double current_ratio;               // 1, times the current of GivenCurrent
  std::string where;  // how a fault begins that only its operating point shows: file, line, key
};

enum class MetalKind { copper, aluminium, brass, stainless_steel };

struct Ring {
  double height;    // m
  double diameter;  // m, of its centre line
};
struct Cage {
  double low, high;  // m
  double diameter;   // m, of the rods' centres
  int rods;
};

// Closed passive metal about the vessel's axis.
struct Conductor {
  std::string name;
  MetalKind metal;
  std::variant<Ring, Cage> shape;
  coil::Section section;
  double joint_resistance;  // ohm, of a closed loop
};

struct CoilDrive {
  std::variant<CurrentFedPushPull, VoltageFedSeries, GivenCurrent> driver;
  driver::TankTolerance tolerances;  // of the drive tank, common to all tags
  std::vector<Circuit> circuits;     // at least one; the first sets the frequency
  std::vector<Coil> coils;           // at least one a circuit
  std::vector<Conductor> conductors;

  bool coaxial() const;  // one series circuit on the vessel's axis and no other metal
};

struct UniformField {
  double flux_density_peak;                              // T
  double frequency;                                      // Hz
  std::array<double, 3> axis;                            // unit vector
  std::optional<std::array<double, 3>> quadrature_axis;  // unit vector, 90 degrees later, same peak
};

// The field as the user measured it on a grid of places.
struct MeasuredField {
  std::string file;  // as it can be opened
  double frequency;  // Hz
  double factor;     // 1, times what the file says
  struct SearchCoil {
    double turns, area;  // 1, m2
  };
  std::optional<SearchCoil> search_coil;  // of a file in volts
  std::string where{};                    // "<file>:<line>:<column>: drive.field.file: ", begins a sentence
};

using Drive = std::variant<CoilDrive, UniformField, MeasuredField>;

struct Fan {
  std::string name;
  std::vector<std::pair<double, double>> curve;  // (m3/s, Pa), flow rising, pressure not rising
};

struct ColumnAir {
  std::variant<double, Fan> flow;  // m3/s as given, or from the fan's curve
  std::vector<Loss> losses;        // used with a fan
  double profile_exponent;         // m >= 1
  double circulation;              // c
  std::optional<SideVents> side_vents;
  std::optional<LidOpening> lid_opening;  // absent: the whole lid is open
  double swirl_speed;                     // m/s, W, peak at the floor before fins
  double swirl_core_radius;               // m, r_c
  double swirl_wall_exponent;             // p
  std::optional<double> swirl_decay;      // beta; absent: Kreith & Sonju 1965
  double fin_swirl_factor;                // 1, multiplies W; 1 without fins
  double fin_loss_coefficient;            // K of the fins in the vessel's cross-section; 0 without fins
  double turbulence_intensity;            // 1, I
  double turbulence_floor;                // m2/s2, k_floor
  std::optional<double> length_scale;     // m; absent: 0.14 R
};

// Air from the user's grid. What the file does not give of k and epsilon follows from the turbulence here.
struct GriddedAir {
  std::string file;                    // as it can be opened
  std::optional<double> open_above;    // m, the wall lets air through from there up
  double turbulence_intensity;         // 1, I
  double turbulence_floor;             // m2/s2, k_floor
  std::optional<double> length_scale;  // m; absent: 0.14 R
  std::string where{};                 // "<file>:<line>:<column>: air.file: ", begins a sentence
};

// A guard or mesh: its K, or the wires that make it.
using Screen = std::variant<double, air::WireMesh>;

struct FanByAngle {
  double angle;  // rad
};
struct FanByWork {
  double angular_speed;  // rad/s, sign as the swirl's
  double efficiency;     // 1, total
};

enum class Edge { sharp, rounded };

// Air that is solved from fan and vessel.
struct SolvedAir {
  Fan fan;
  double fan_diameter;                                        // m
  double hub_diameter;                                        // m, 0: none
  std::variant<std::monostate, FanByAngle, FanByWork> swirl;  // of the fan
  double inlet_height;                                        // m, fan to mesh
  std::optional<Screen> guard;                                // on the fan's annulus
  std::optional<Screen> mesh;                                 // on the vessel's cross-section
  std::optional<swirl_flow::FinGeometry> fins;
  double side_gap;  // m, 0: none
  Edge edge;        // of the side gap
  std::optional<swirl_flow::LidVent> lid_vent;
  double hole_diameter;  // m, of the lid's holes; 0: one opening or none
  swirl_flow::Detail detail;
};

struct Precession {
  double speed;            // m/s, transverse, on the axis
  double strouhal_number;  // 1, of the mean speed and the vessel's diameter; < 0: clockwise from above
};

enum class GustAveraging { off, on };

struct Air {
  std::variant<ColumnAir, GriddedAir, SolvedAir> source;
  std::optional<Precession> precession;
  GustAveraging gust_averaging;
};

struct Emitter {
  std::string name;
  std::string colour;                             // free word: "yellow-green"
  std::vector<std::pair<double, double>> points;  // data-sheet (A, V), forward, current rising
  double intensity;                               // cd at intensity_current, on axis
  double intensity_current;                       // A
  double junction_capacitance;                    // F
  double reverse_breakdown;                       // V
  double reverse_leakage;                         // A at half the breakdown voltage
  double mean_current_rating;                     // A
  double peak_current_rating;                     // A
  double reverse_voltage_rating;                  // V
  std::array<double, 2> chromaticity;             // CIE 1931 x, y
};

struct SphereDrag {};
struct CageDrag {
  double coefficient_along;   // 1, flow along the coil axis
  double coefficient_across;  // 1
  double frontal_area;        // m2, both coefficients are on it
};
struct DiscDrag {
  double thickness;  // m
};
using Drag = std::variant<SphereDrag, CageDrag, DiscDrag>;

enum class BodyKind { solid, tracer };
enum class WallLift { on, off };

struct Part {
  std::string name;
  double mass;  // kg
};

struct Body {
  BodyKind kind;
  double radius;            // m, a_b
  double mass;              // kg, the whole tag (sum of the parts where parts are given)
  std::vector<Part> parts;  // as listed, may be empty
  Drag drag;
  double inertia;             // 1, J = inertia * mass * radius^2
  double centre_offset;       // m, l: from the centre of mass to the centre of drag, along n
  double displaced_volume;    // m3
  double restitution;         // 1
  double friction;            // 1
  double rolling_resistance;  // 1, arm over radius
  WallLift wall_lift;
};

struct Tolerances {    // each: uniform within +- the value
  double inductance;   // 1
  double capacitance;  // 1
  double led_voltage;  // V
};

struct CapacitorClass {
  std::string code;  // of a ceramic, as C0G
  receiver::Dielectric dielectric;
  double bias_rated_voltage;               // V, direct: what class 2 loses by
  std::optional<double> own_loss_tangent;  // 1, as given; absent: the class's
};

struct CircuitReceiver {
  Winding winding;
  double capacitance;   // F
  double loss_tangent;  // 1
  Tolerances tolerances;
  std::optional<CapacitorClass> capacitor_class;
  std::optional<double> capacitor_rated_voltage;  // V, direct; absent: not checked
  std::optional<double> threshold_current;        // A mean; absent: visibility from `ambient`
};

struct ThresholdReceiver {
  double flux_density;  // T, on when the peak of B.n reaches it
};

using Receiver = std::variant<CircuitReceiver, ThresholdReceiver>;

struct Hold {
  std::array<double, 3> place;                // m
  std::optional<std::array<double, 3>> axis;  // unit vector; absent: a new isotropic axis every step
};

struct TagDesign {
  std::string name;
  int count;
  Body body;
  Receiver receiver;
  // Names as fit_name.hpp has them; one nameless fit "threshold" with a ThresholdReceiver.
  std::vector<std::string> fits;
  std::vector<std::pair<std::string, int>>
      mix;  // how many of `count` carry which of `fits`, in the order of `fits`
  std::optional<Hold> hold;
};

struct Trace {
  int replicates;   // the first so many are recorded; 0: none
  double interval;  // s
};

enum class Coupling { off, on };

struct Flight {
  double duration;                        // s after warm-up
  double warmup;                          // s
  double step;                            // s
  int replicates;                         // the count, or the most that a wanted interval may take
  std::optional<double> target_interval;  // 1, half width of the widest 95 % interval of a duty
  std::uint64_t seed;
  Coupling coupling;  // of tags with each other
  double lost_limit;  // 1, share of all tags that may get lost
  Trace trace;
};

// A value that was tuned by readings, in the unit that the scenario writes it in.
struct TunedValue {
  std::string key;                   // its path
  std::string unit;                  // "" for a pure number
  double value, deviation;           // the posterior's mean and standard deviation
  std::vector<double> correlations;  // with those before it
  std::string where;                 // "<file>:<line>:<column>: tuned.unknowns[1].value: ", begins a sentence
};
struct TunedValues {
  std::string readings;  // the file that they come from
  std::vector<TunedValue> values;
};

struct Scenario {
  std::string title;
  Ambient ambient;
  Vessel vessel;
  Drive drive;
  Air air;
  std::vector<Emitter> emitters;  // those the fits name, in order of first use
  std::vector<TagDesign> tags;
  Flight flight;
  std::optional<TunedValues> tuned;

  std::string name;  // file name without directory and ending
  std::string text;  // the file as read
  std::string hash;  // SHA-256 of `text`, hexadecimal

  // What a fit's name names, one or a pair. LogicError for an emitter that is not there.
  std::vector<const Emitter*> emitters_of(const std::string& fit) const;
};

}  // namespace driftglow::scenario
