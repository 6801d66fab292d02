#include "models/coil/series_circuit.hpp"

#include <cmath>

#include "models/coil/inductance.hpp"
#include "models/coil/round_wire.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {

using constant::mu_0;
using constant::pi;

SeriesCircuit::SeriesCircuit(std::vector<WoundCoil> coils)
    : coils_(std::move(coils)), transverse_square_(coils_.size(), 0.0) {
  if (coils_.empty()) throw LogicError("a series circuit without coils");
  for (std::size_t c = 0; c < coils_.size(); ++c) {
    for (const auto& turn : coils_[c].turns) {
      double radial = 0.0, axial = 0.0;  // of all other turns, T/A
      for (const auto& other_coil : coils_) {
        for (const auto& other : other_coil.turns) {
          if (&other == &turn) continue;
          const double distance = std::hypot(other.radius - turn.radius, other.height - turn.height);
          if (distance < 0.5 * (coils_[c].wire.bare_diameter + other_coil.wire.bare_diameter) * (1.0 - 1e-9))
            throw InputError(
                "turns of two coils lie in the same place; move the coils apart or shorten their windings");
          mutual_sum_ += turn.weight * other.weight *
                         mutual_inductance(turn.radius, other.radius, turn.height - other.height);
          const auto field = turn_field(other.radius, turn.radius, turn.height - other.height);
          radial += other.weight * field.radial;
          axial += other.weight * field.axial;
        }
      }
      transverse_square_[c] +=
          std::fabs(turn.weight) * 2.0 * pi * turn.radius * (radial * radial + axial * axial) / (mu_0 * mu_0);
    }
  }
}

double SeriesCircuit::inductance(double frequency, double temperature) const {
  const double depth = skin_depth(copper_resistivity(temperature), frequency);
  double sum = mutual_sum_;
  for (const auto& coil : coils_) {
    const double wire_radius = 0.5 * coil.wire.bare_diameter;
    const double internal_term = internal_inductance_term(wire_radius / depth);
    for (const auto& turn : coil.turns)
      sum += turn.weight * turn.weight * loop_inductance(turn.radius, wire_radius, internal_term);
  }
  return sum;
}

Resistance SeriesCircuit::coil_resistance(int index, double frequency, double temperature) const {
  const WoundCoil& coil = coils_.at(index);
  const double resistivity = copper_resistivity(temperature);
  const double wire_radius = 0.5 * coil.wire.bare_diameter;
  const double relative_radius = wire_radius / skin_depth(resistivity, frequency);
  Resistance result;
  result.dc = resistivity * coil.wire_length / (pi * wire_radius * wire_radius);
  result.skin = result.dc * (internal_impedance_ratio(relative_radius).real() - 1.0);
  // P = I^2 R/2 with the peak current, hence the factor 2 on the loss a metre and square ampere.
  result.proximity = 2.0 * pi * (2.0 * pi * frequency) * mu_0 * wire_radius * wire_radius *
                     transverse_loss_factor(relative_radius) * transverse_square_[index];
  result.total = result.dc + result.skin + result.proximity;
  return result;
}

Resistance SeriesCircuit::resistance(double frequency, double temperature) const {
  Resistance sum;
  for (int c = 0; c < static_cast<int>(coils_.size()); ++c) sum += coil_resistance(c, frequency, temperature);
  return sum;
}

ResistanceTrust SeriesCircuit::resistance_trust(double frequency, double temperature) const {
  double ratio = HUGE_VAL;
  for (const auto& coil : coils_) {
    if (coil.turns.size() > 1) ratio = std::fmin(ratio, coil.closest_spacing / coil.wire.bare_diameter);
  }
  const Resistance parts = resistance(frequency, temperature);
  const double induced_share = (parts.skin + parts.proximity) / parts.total;
  // A pitch of exactly two diameters is common: rounding must not call it close.
  const bool spaced = ratio >= 2.0 * (1.0 - 1e-9);
  return {spaced ? ProximityValidity::spaced : ProximityValidity::close, ratio,
          (spaced ? 0.04 : 0.31) * induced_share};
}

}  // namespace driftglow::coil
