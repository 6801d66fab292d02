#pragma once

#include <string>

#include "models/coil/coil_map.hpp"
#include "models/coil/volume_map.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/store/hdf5_file.hpp"

// The maps that coil.h5 and air.h5 keep for the next run. What reads throws InputError where the file holds
// none that fits together.
namespace driftglow::maps {

// Of coaxial coils: that circuit's, per ampere.
coil::CoilMap read_coil_map(const store::Reader& file, const std::string& circuit);
// Of others: the whole field.
coil::VolumeMap read_volume_map(const store::Reader& file);

// Solved air, besides the maps of interface.md.
struct KeptAir {
  SolvedReport report;
  air::OperatingPoint point;
  air::AirMapError error;
  air::AirNodes nodes;
};
KeptAir read_kept_air(const store::Reader& file);
void write_kept_air(store::Writer& file, const KeptAir& air);

}  // namespace driftglow::maps
