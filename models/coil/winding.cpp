#include "models/coil/winding.hpp"

#include <cmath>
#include <string>

#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

std::string in_millimetres(double length) {
  std::string text = std::to_string(length * 1e3);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text + " mm";
}

void require_positive(double value, const char* what) {
  if (!(value > 0.0) || !std::isfinite(value))
    throw InputError("the winding's " + std::string(what) + " is " + in_millimetres(value) +
                     "; it must be greater than zero");
}

void validate(const Winding& w) {
  require_positive(w.inner_diameter, "inner diameter");
  require_positive(w.wire.bare_diameter, "bare wire diameter");
  require_positive(w.pitch, "pitch");
  if (!(w.turns >= 0.1 && w.turns <= 20000.0))
    throw InputError("the winding has " + std::to_string(w.turns) +
                     " turns; expected 0.1 to 20 000, because every turn is computed at its place");
  if (w.layers < 1 || w.layers > std::ceil(w.turns))
    throw InputError("the winding has " + std::to_string(w.layers) +
                     " layers; expected at least one, and no more than it has turns");
  if (!(w.wire.enamelled_diameter >= w.wire.bare_diameter))
    throw InputError("the enamelled wire diameter " + in_millimetres(w.wire.enamelled_diameter) +
                     " is less than the bare diameter " + in_millimetres(w.wire.bare_diameter) +
                     "; it includes the bare wire");
  // A close winding is often given by the same rounded number twice: equal is allowed, to rounding.
  if (w.pitch < w.wire.enamelled_diameter * (1.0 - 1e-12))
    throw InputError("the winding's pitch " + in_millimetres(w.pitch) +
                     " is less than the enamelled wire diameter " +
                     in_millimetres(w.wire.enamelled_diameter) + "; neighbouring turns would overlap");
  if (w.wire.litz) check(*w.wire.litz, w.wire.bare_diameter);
}

}  // namespace

double Wire::copper_area() const {
  const double square =
      litz ? litz->strands * litz->strand_diameter * litz->strand_diameter : bare_diameter * bare_diameter;
  return 0.25 * constant::pi * square;
}

WoundCoil wind(const Winding& w, double centre_height, Sense sense) {
  validate(w);
  const int places = static_cast<int>(std::ceil(w.turns));
  const int per_layer = (places + w.layers - 1) / w.layers;
  const double sign = sense == Sense::right_handed ? 1.0 : -1.0;
  WoundCoil coil{.turns = {},
                 .wire = w.wire,
                 .closest_spacing = w.layers > 1 ? std::fmin(w.pitch, w.wire.enamelled_diameter) : w.pitch,
                 .outer_radius = 0.0,
                 .axial_length = (per_layer - 1) * w.pitch + w.wire.enamelled_diameter,
                 .wire_length = 0.0,
                 .copper_mass = 0.0};
  for (int place = 0; place < places; ++place) {
    const int layer = place / per_layer;
    const int in_this_layer = std::min(per_layer, places - layer * per_layer);
    const double radius = 0.5 * (w.inner_diameter + w.wire.bare_diameter) + layer * w.wire.enamelled_diameter;
    const double height = centre_height + (place % per_layer - 0.5 * (in_this_layer - 1)) * w.pitch;
    const double fraction = std::fmin(1.0, w.turns - place);
    coil.turns.push_back({radius, height, sign * fraction});
    coil.wire_length += fraction * 2.0 * constant::pi * radius;
  }
  coil.outer_radius = coil.turns.back().radius + 0.5 * w.wire.enamelled_diameter;
  const double lay = w.wire.litz ? w.wire.litz->lay_factor : 1.0;
  coil.copper_mass = constant::copper_density * coil.wire_length * lay * w.wire.copper_area();
  return coil;
}

std::vector<Turn> all_turns(std::span<const WoundCoil> coils) {
  std::vector<Turn> turns;
  for (const auto& coil : coils) turns.insert(turns.end(), coil.turns.begin(), coil.turns.end());
  return turns;
}

MeridianFieldOverRadius field_of(std::span<const Turn> turns, double r, double z) {
  MeridianFieldOverRadius sum{0.0, 0.0};
  for (const auto& turn : turns) {
    const auto field = turn_field_over_radius(turn.radius, r, z - turn.height);
    sum.radial_over_rho += turn.weight * field.radial_over_rho;
    sum.axial += turn.weight * field.axial;
  }
  return sum;
}

}  // namespace driftglow::coil
