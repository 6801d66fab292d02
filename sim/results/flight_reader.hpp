#pragma once

#include "sim/flight/campaign.hpp"
#include "sim/results/summary.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::results {

// The replicates of a flight.h5 as they went into it. Counts that the file holds for all replicates together
// (spells and places) stand in the first one, the others have zeros: whoever takes all of them gets the same
// sums. Throws InputError where the file has not the outline's shape.
flight::Replicates read_replicates(const store::Reader& file, const Outline& outline);

}  // namespace driftglow::results
