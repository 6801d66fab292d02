#pragma once

#include "models/air/air_map.hpp"
#include "models/swirl_flow/vessel.hpp"

namespace driftglow::swirl_flow {

// Cells of a map, at least 4 each; more along z where a side gap would be less than 4 cells high (640 at
// most), and up to a quarter more, so that a node comes as near as may be to the gap's edge.
struct MapCells {
  int s = 96, z = 160;
};

// Node values of the air map of a solved vessel, 0 <= z <= height, from the solver's stream function: the
// nodes of the quasi-interpolating spline (coefficients inside are the solver's values, Schoenberg 1967
// [schoenberg1967]; de Boor, A Practical Guide to Splines [deboor1978]), chosen so that the interpolation of
// air::AirMap gives just that spline. Unlike an interpolating one it does not ring at the edges of jets and
// vents: along closed walls, mesh to a cell of the map below the gap, chi is one constant and no air passes;
// none passes a closed lid. It smooths over a cell of the map, which is finer than the solver's but near the
// axis and at edges: rms 0.005 of the speed, 0.02 Q/2 pi of psi at worst, beside the gap's edge.
air::AirNodes nodes_of(const SolvedVessel& vessel, const MapCells& cells = {});

// The map itself; its error() compares it with the solver's values in the middles of the solver's cells, as
// volume-weighted rms over the vessel.
air::AirMap map_of(const SolvedVessel& vessel, const MapCells& cells = {});

}  // namespace driftglow::swirl_flow
