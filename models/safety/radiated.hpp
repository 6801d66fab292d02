#pragma once

#include <array>
#include <optional>

namespace driftglow::safety {

// Largest field strength [A/m rms] in any direction at a distance [m] from a small coil of magnetic moment [A
// m2 rms] (sum over turns of weight x area x current, as a vector):
//   m/(2 pi r^3) sqrt(1 + (kr)^2)                    on the axis,
//   m/(4 pi r^3) sqrt((1 - (kr)^2)^2 + (kr)^2)       in the plane,   k = 2 pi f/c.
// Valid from some five coil diameters on; ground and buildings neglected, which may raise it by a few dB. Two
// coils in opposition have no moment but do have a field: take largest_at_distance() there. Source: the field
// of a magnetic dipole, any textbook. LogicError unless moment >= 0, the others > 0.
double dipole_field_strength(double moment_rms, double frequency, double distance);

// Field strength in dB over 1 uA/m.
double decibel_microampere(double field_strength);

// Limit [dB over 1 uA/m, quasi-peak] at 10 m for inductive short-range devices in Europe, the general bands
// from 9 kHz to 30 MHz; empty outside. Source [etsi_en_300_330], [erc_rec_70_03], from memory: editions and
// countries differ, and an exhibit may fall under other rules. A caution to look it up, no verdict.
// LogicError unless frequency > 0.
std::optional<double> short_range_limit(double frequency);

struct RadiatedField {
  double distance;  // m
  double level;     // dB over 1 uA/m
  std::optional<double>
      limit;  // dB over 1 uA/m: that of 10 m, taken to this distance along the dipole's fall
};

// At 3, 10 and 30 m.
std::array<RadiatedField, 3> radiated_fields(double moment_rms, double frequency);

}  // namespace driftglow::safety
