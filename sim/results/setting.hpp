#pragma once

#include <array>
#include <filesystem>
#include <string>
#include <vector>

#include "sim/results/summary.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::results {

// A drive coil as it stands in the vessel's frame.
struct CoilLook {
  std::string name;
  std::array<double, 3> centre, axis;        // m; 1
  std::vector<std::array<double, 2>> turns;  // m: offset along the axis, radius
  double wire_radius;                        // m, with enamel
};

// Passive metal about the vessel's axis: a ring (no rods, low = high) or a cage.
struct MetalLook {
  std::string name;
  double radius, low, high, half_thickness;  // m
  int rods;
};

// What an LED's light looks like.
struct GlowLook {
  std::array<double, 3> xyz_per_current;  // cd/A, CIE 1931 tristimulus values, Y the luminous intensity
  double on_current;                      // A mean, from which on the tag counts as lit by it alone
};
// Of a fit: one LED, the two of an antiparallel pair, or none for a plain threshold. A pair is lit where its
// currents over their on_current add up to 1.
using FitLook = std::vector<GlowLook>;

// Values on an even grid, [first axis][second axis].
struct Grid {
  std::array<double, 2> low, high;  // m
  std::array<int, 2> nodes;

  double at(int axis, int i) const { return low[axis] + (high[axis] - low[axis]) * i / (nodes[axis] - 1); }
  std::size_t size() const { return static_cast<std::size_t>(nodes[0]) * nodes[1]; }
};

// What a report shows beside the replicates: all that follows from the scenario alone. Kept in flight.h5, so
// that the file makes the whole report wherever it goes.
struct Setting {
  std::string title, name;  // of the scenario
  Outline outline;
  std::string sheet;                        // the design sheet as a text
  std::vector<std::string> cautions;        // the design sheet's
  std::vector<std::vector<FitLook>> glow;   // [design][fit]
  std::vector<double> tag_radius;           // m, [design], of the body
  std::vector<double> coil_radius;          // m, [design], of the receiver; 0 for a plain threshold
  std::vector<std::uint8_t> flashes_count;  // [design], 0: a new axis every step, flashes mean nothing
  std::vector<CoilLook> coils;
  std::vector<MetalLook> metal;
  Grid section;                                 // x, z in the plane y = 0, out to the coils
  std::vector<double> flux_density;             // T peak, on the section
  Grid half_section;                            // r, z
  std::vector<double> u_r, u_theta, u_z;        // m/s, mean air on the half section
  std::optional<ParameterWidths> parameters{};  // of a tuned scenario
};

// Slots of flight::Trace::current that a tag of the design has, and that of an LED of a fit among them.
std::size_t trace_slots(const std::vector<FitLook>& design);
std::size_t trace_slot(const std::vector<FitLook>& design, std::size_t fit, std::size_t led);

void write_setting(store::Writer& file, const Setting& setting);
// Throws InputError where the file holds no setting that fits together.
Setting read_setting(const store::Reader& file);

// A whole flight.h5 read back, see read_replicates().
struct StoredFlight {
  store::Origin origin;
  Setting setting;
  flight::CampaignResult campaign;
};
// Throws InputError where the file holds no whole flight.
StoredFlight read_flight(const std::filesystem::path& path);

}  // namespace driftglow::results
