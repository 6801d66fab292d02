#pragma once

#include <optional>
#include <span>
#include <vector>

#include "models/coil/litz.hpp"
#include "models/coil/turn_field.hpp"

namespace driftglow::coil {

// Solid enamelled wire, or a bundle of strands.
struct Wire {
  double bare_diameter;       // m, of a bundle: over its strands
  double enamelled_diameter;  // m, of a bundle: over its serving
  std::optional<Litz> litz = std::nullopt;

  // Copper across the bundle, its strands cut square [m2].
  double copper_area() const;
};

// What the maker winds. Valid when wind() accepts it.
struct Winding {
  double inner_diameter;  // m, inner edge of the bare wire of the first layer
  double turns;           // 1, may be fractional
  int layers;
  Wire wire;
  double pitch;  // m, between neighbouring turns of a layer
};

// One circular turn of thin wire about the common axis.
struct Turn {
  double radius;  // m
  double height;  // m, along the axis
  double weight;  // 1, turn fraction times sense: flux and field go with it, inductance with weight x
                  // weight', resistance with its size
};

// A wound coil at its place.
struct WoundCoil {
  std::vector<Turn> turns;
  Wire wire;
  double closest_spacing;  // m, between centres of neighbouring turns, axially or radially
  double outer_radius;     // m, of the enamel of the last layer
  double axial_length;     // m, over the enamel
  double wire_length;      // m
  double copper_mass;      // kg
};

enum class Sense { right_handed, left_handed };  // about +z

// Turns at their real places: ceil(turns/layers) turns a layer, each layer filled before the next, layer k at
// radius (inner diameter + bare diameter)/2 + k x enamelled diameter (layers lie wire over wire, as on a
// machine-wound or taped coil: nesting in the grooves, which would bring them 13 % closer, is neglected),
// every layer centred on centre_height also when the last one is not full, the last turn of a fractional
// count weighted by its fraction. Wire length: the circles' (the helix adds (pitch/2 pi a)^2/2, below 1e-4)
// without leads. Throws InputError (one sentence) when a size is not positive and finite, turns < 0.1 or more
// than 20 000, layers outside 1..turns, enamelled < bare diameter or pitch < enamelled diameter, or litz wire
// that check() refuses. Lengths are the bundle's, the mass counts the strands' lay.
WoundCoil wind(const Winding& winding, double centre_height, Sense sense);

// All turns of several coils in one list.
std::vector<Turn> all_turns(std::span<const WoundCoil> coils);

// Field [T/A, T/(A m)] of coaxial turns in series at distance r from the axis, height z.
MeridianFieldOverRadius field_of(std::span<const Turn> turns, double r, double z);

}  // namespace driftglow::coil
