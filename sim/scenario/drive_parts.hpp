#pragma once

#include <vector>

#include "models/coil/coil_system.hpp"
#include "sim/scenario/scenario.hpp"

// Parts of a drive as the models take them.
namespace driftglow::scenario {

// A coil along the vessel's axis at its height. Throws InputError as coil::wind().
coil::WoundCoil wound(const Coil& coil);
// A coil anywhere. Throws InputError likewise.
coil::PlacedCoil placed(const Coil& coil);

// The closed loops of a passive conductor: one of a ring, several of a cage. Throws InputError for a section
// that does not fit.
std::vector<coil::ShortedTurn> loops_of(const Conductor& conductor);

}  // namespace driftglow::scenario
