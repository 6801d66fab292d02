#include "models/coil/series_circuit.hpp"

#include <cmath>

#include "models/coil/inductance.hpp"
#include "models/coil/round_wire.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

// A pitch of exactly two diameters is common: rounding must not call it close.
constexpr double spaced_from = 2.0 * (1.0 - 1e-9);

using constant::mu_0;
using constant::pi;

// Square of the field of all turns but one [(T/A)^2] at distance r from the axis, height z.
double field_square(const std::vector<WoundCoil>& coils, const Turn& except, double r, double z) {
  double radial = 0.0, axial = 0.0;
  for (const auto& coil : coils) {
    for (const auto& other : coil.turns) {
      if (&other == &except) continue;
      const auto field = turn_field(other.radius, r, z - other.height);
      radial += other.weight * field.radial;
      axial += other.weight * field.axial;
    }
  }
  return radial * radial + axial * axial;
}

// Its mean over the disc of a bundle: centre 1/4, six points at sqrt(2/3) of the radius sharing 3/4, exact to
// the fifth degree (Abramowitz & Stegun 25.4.61 [abramowitz1964]).
double mean_field_square(const std::vector<WoundCoil>& coils, const Turn& turn, double bundle_radius) {
  double sum = 0.25 * field_square(coils, turn, turn.radius, turn.height);
  for (int i = 0; i < 6; ++i) {
    const double angle = pi / 3.0 * i, s = std::sqrt(2.0 / 3.0) * bundle_radius;
    sum += 0.125 *
           field_square(coils, turn, turn.radius + s * std::cos(angle), turn.height + s * std::sin(angle));
  }
  return sum;
}

}  // namespace

SeriesCircuit::SeriesCircuit(std::vector<WoundCoil> coils)
    : coils_(std::move(coils)), spacing_ratio_(HUGE_VAL), transverse_square_(coils_.size(), 0.0) {
  if (coils_.empty()) throw LogicError("a series circuit without coils");
  std::size_t turns = 0;
  bool solid = true;
  for (std::size_t c = 0; c < coils_.size(); ++c) {
    const Wire& wire = coils_[c].wire;
    turns += coils_[c].turns.size();
    solid = solid && !wire.litz;
    if (coils_[c].turns.size() > 1 && !wire.litz)
      spacing_ratio_ = std::fmin(spacing_ratio_, coils_[c].closest_spacing / wire.bare_diameter);
    for (const auto& turn : coils_[c].turns) {
      for (const auto& other_coil : coils_) {
        for (const auto& other : other_coil.turns) {
          if (&other == &turn) continue;
          const double distance = std::hypot(other.radius - turn.radius, other.height - turn.height);
          const double diameter = 0.5 * (wire.bare_diameter + other_coil.wire.bare_diameter);
          if (&other_coil != &coils_[c] && !wire.litz && !other_coil.wire.litz)
            spacing_ratio_ = std::fmin(spacing_ratio_, distance / diameter);
          if (distance < diameter * (1.0 - 1e-9))
            throw InputError(
                "turns of two coils lie in the same place; move the coils apart or shorten their windings");
          mutual_sum_ += turn.weight * other.weight *
                         mutual_inductance(turn.radius, other.radius, turn.height - other.height);
        }
      }
      const double square = wire.litz ? mean_field_square(coils_, turn, 0.5 * wire.bare_diameter)
                                      : field_square(coils_, turn, turn.radius, turn.height);
      transverse_square_[c] += std::fabs(turn.weight) * 2.0 * pi * turn.radius * square / (mu_0 * mu_0);
    }
  }
  if (solid && spacing_ratio_ < spaced_from && turns <= close_winding_most_turns)
    close_ = std::make_shared<const CloseWinding>(coils_);
}

double SeriesCircuit::inductance(double frequency, double temperature) const {
  const double depth = skin_depth(copper_resistivity(temperature), frequency);
  double sum = mutual_sum_;
  for (const auto& coil : coils_) {
    const double wire_radius = 0.5 * coil.wire.bare_diameter;
    // Strands share the current evenly over the bundle at any frequency.
    const double internal_term = coil.wire.litz ? 0.25 : internal_inductance_term(wire_radius / depth);
    for (const auto& turn : coil.turns)
      sum += turn.weight * turn.weight * loop_inductance(turn.radius, wire_radius, internal_term);
  }
  return sum;
}

double SeriesCircuit::induced_inductance(double frequency, double temperature) const {
  const double depth = skin_depth(copper_resistivity(temperature), frequency);
  double sum = 0.0;
  for (std::size_t c = 0; c < coils_.size(); ++c) {
    if (solved(depth)) {
      sum += close_->part(static_cast<int>(c), depth).inductance;
    } else {
      const auto& litz = coils_[c].wire.litz;
      const double wire_radius = 0.5 * (litz ? litz->strand_diameter : coils_[c].wire.bare_diameter);
      sum -= (litz ? litz->strands : 1) * 2.0 * pi * mu_0 * wire_radius * wire_radius *
             multipole_response(wire_radius / depth, 1).front().real() * transverse_square_[c];
    }
  }
  return sum;
}

Resistance SeriesCircuit::coil_resistance(int index, double frequency, double temperature) const {
  const WoundCoil& coil = coils_.at(index);
  const double resistivity = copper_resistivity(temperature);
  if (coil.wire.litz) {
    const auto litz = litz_resistance(*coil.wire.litz, coil.wire.bare_diameter, resistivity, frequency);
    Resistance result{litz.dc * coil.wire_length, litz.skin * coil.wire_length,
                      litz.internal * coil.wire_length + litz.external * transverse_square_[index], 0.0};
    result.total = result.dc + result.skin + result.proximity;
    return result;
  }
  const double wire_radius = 0.5 * coil.wire.bare_diameter;
  const double depth = skin_depth(resistivity, frequency);
  const double relative_radius = wire_radius / depth;
  Resistance result;
  result.dc = resistivity * coil.wire_length / (pi * wire_radius * wire_radius);
  result.skin = result.dc * (internal_impedance_ratio(relative_radius).real() - 1.0);
  if (solved(depth)) {
    result.proximity = resistivity * close_->part(index, depth).loss;
  } else {
    // P = I^2 R/2 with the peak current, hence the factor 2 on the loss a metre and square ampere.
    result.proximity = 2.0 * pi * (2.0 * pi * frequency) * mu_0 * wire_radius * wire_radius *
                       transverse_loss_factor(relative_radius) * transverse_square_[index];
  }
  result.total = result.dc + result.skin + result.proximity;
  return result;
}

Resistance SeriesCircuit::resistance(double frequency, double temperature) const {
  Resistance sum;
  for (int c = 0; c < static_cast<int>(coils_.size()); ++c) sum += coil_resistance(c, frequency, temperature);
  return sum;
}

ResistanceTrust SeriesCircuit::resistance_trust(double frequency, double temperature) const {
  const Resistance parts = resistance(frequency, temperature);
  const double induced_share = (parts.skin + parts.proximity) / parts.total;
  if (spacing_ratio_ >= spaced_from) return {ProximityValidity::spaced, spacing_ratio_, 0.04 * induced_share};
  if (solved(skin_depth(copper_resistivity(temperature), frequency))) {
    double curvature = 0.0;
    for (const auto& coil : coils_)
      curvature = std::fmax(curvature, 0.5 * coil.wire.bare_diameter / coil.turns.front().radius);
    return {ProximityValidity::solved, spacing_ratio_, std::fmax(0.01, curvature) * induced_share};
  }
  return {ProximityValidity::close, spacing_ratio_, 0.31 * induced_share};
}

}  // namespace driftglow::coil
