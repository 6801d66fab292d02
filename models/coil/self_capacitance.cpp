#include "models/coil/self_capacitance.hpp"

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {

using constant::epsilon_0;
using constant::pi;

double facing_wires_capacitance(double bare_diameter, double enamelled_diameter, double permittivity) {
  if (!(bare_diameter > 0.0 && enamelled_diameter > bare_diameter && permittivity >= 1.0))
    throw LogicError("self-capacitance: needs enamel on the wire and a permittivity of at least one");
  const double coat = std::log(enamelled_diameter / bare_diameter) / permittivity;
  return 2.0 * epsilon_0 / std::sqrt(coat * (2.0 + coat)) *
         std::atan(std::sqrt((2.0 + coat) / coat) * std::tan(pi / 8.0));
}

SelfCapacitance self_capacitance(const Winding& winding, LayerOrder order, double permittivity) {
  const WoundCoil coil = wind(winding, 0.0, Sense::right_handed);
  if (winding.layers == 1) {
    const double diameter = 2.0 * coil.turns.front().radius;
    const double slimness = winding.turns * winding.pitch / diameter;
    return {1e-12 * diameter * (11.26 * slimness + 8.0 + 27.0 / std::sqrt(slimness)),
            slimness >= 0.1 ? SelfCapacitanceMethod::single_layer : SelfCapacitanceMethod::short_layer};
  }
  // A coil of bare wire is given by equal diameters: as if coated by a hundredth.
  const double bare = winding.wire.bare_diameter;
  const double facing =
      facing_wires_capacitance(bare, std::fmax(winding.wire.enamelled_diameter, 1.01 * bare), permittivity);
  const auto places = coil.turns.size();
  const std::size_t per_layer = (places + winding.layers - 1) / winding.layers;
  double energy = 0.0;  // twice, at one volt across the coil
  for (std::size_t below = 0; below + per_layer < places; ++below) {
    const std::size_t layer = below / per_layer, place = below % per_layer;
    // Turn of the next layer that lies over this one.
    const std::size_t above =
        (layer + 1) * per_layer + (order == LayerOrder::same_end ? place : per_layer - 1 - place);
    if (above >= places) continue;
    const double volts = static_cast<double>(above - below) / winding.turns;
    const double radius = 0.5 * (coil.turns[below].radius + coil.turns[above].radius);
    energy += volts * volts * 2.0 * pi * radius * facing;
  }
  return {energy, SelfCapacitanceMethod::layers};
}

SelfResonance self_resonance(double inductance, double self_capacitance, double frequency,
                             double tank_capacitance, double resonance_tolerance) {
  if (!(inductance > 0.0 && self_capacitance > 0.0 && frequency > 0.0 && tank_capacitance > 0.0 &&
        resonance_tolerance >= 0.0))
    throw LogicError("self-resonance: values must be positive");
  SelfResonance result{};
  result.frequency = 1.0 / (2.0 * pi * std::sqrt(inductance * self_capacitance));
  result.use_ratio = frequency / result.frequency;
  result.tank_shift = 1.0 / std::sqrt(1.0 + self_capacitance / tank_capacitance) - 1.0;
  using Concern = SelfResonance::Concern;
  result.concern = result.use_ratio > 0.2                     ? Concern::near_resonance
                   : -result.tank_shift > resonance_tolerance ? Concern::shifts_tank
                                                              : Concern::none;
  return result;
}

}  // namespace driftglow::coil
