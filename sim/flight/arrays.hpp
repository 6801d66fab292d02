#pragma once

#include <cstdint>

#include "sim/flight/numbers.hpp"
#include "sim/flight/plan.hpp"

namespace driftglow::flight {

class GlowTally;

// Nodes of a current table in memory: the last one stands twice, so that there is always a next one.
inline constexpr int table_length = CurrentTable::intervals + 2;

// Several vessels flown side by side, a lane each: what the stages of a step read and write. Places in memory
// only; VesselBlock owns them. Lanes are the innermost index; `Real` is double for one scalar lane and float
// for packs: single precision rounds a place to some nanometres and a speed to 1e-7 of itself, less than the
// maps' error by far. Double stays where sums run over a whole flight (GlowTally) and where tables are made;
// random streams are 64-bit integers.
template <class Real>
struct FlightArrays {
  int lanes;
  Real* state;                            // [tag][state_numbers][lane]
  std::uint64_t* stream_state;            // [tag][stream_slot(lane)], of the air, or the axis of a held tag
  const std::uint64_t* stream_increment;  // likewise
  Real* kicks;                            // 1, [tag][kick_numbers][lane], standard normals of a step
  Real* air;                              // [tag][air_numbers][lane], AirSample
  Real* linkage_squared;                  // Wb2 or T2, [tag][lane]

  // A slot is an LED that a tag may carry: those of a tag in a row as in DesignPlan::slot_count(), tags in
  // their order. The second LED of a pair is a slot of its own with the limits of the first: lit with it.
  const Real* on_linkage_squared;           // [slot][lane]
  const Real* over_rating_linkage_squared;  // [slot][lane]
  const Real* current_table;                // A, [slot][lane][table_length]
  const double* nodes_per_linkage;          // 1/Wb, [design]
  std::uint32_t* lit;                       // [slot], bit l: lane l lit in the last step
  Real* current_sum;                        // A, [slot][lane], over the steps since it was last emptied
  GlowTally* tally;
  // With coupled tags only.
  Real* linkage_parts;       // Wb, [tag][2][lane], in phase and a quarter period later
  const Real* seen_squared;  // Wb2, [slot][lane]
};

}  // namespace driftglow::flight
