#pragma once

#include <filesystem>
#include <optional>
#include <variant>

#include "models/coil/coil_map.hpp"
#include "models/coil/flux_linkage.hpp"
#include "models/driver/operating_point.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::maps {

enum class MapOrigin { computed, reused };

// Coils, what drives them, and their field per ampere.
struct CoilState {
  coil::SeriesCircuit circuit;
  driver::OperatingPoint point;
  coil::CoilMap map;
  MapOrigin origin;
};

struct DriveState {
  double frequency;  // Hz
  std::variant<scenario::UniformField, CoilState> field;
};

// Where tags' centres can be: the smallest tag's reach in the vessel, widened to held tags.
coil::Reach tag_reach(const scenario::Scenario& scenario);

coil::WoundCoil wound(const scenario::Coil& coil);
coil::WoundCoil wound_receiver(const scenario::Winding& winding);

// Solves the driver and gets the coil map: from `stored` where that file exists and everything it depends on
// is the same, else computed. Throws InputError, also when the file is there but not whole.
DriveState make_drive(const scenario::Scenario& scenario, const std::filesystem::path& stored);

// coil.h5 of interface.md. Nothing is written for a uniform field or a map that was reused from `path`.
void write_coils(const DriveState& drive, const scenario::Scenario& scenario,
                 const std::string& program_version, const std::filesystem::path& path,
                 const store::Run& run);

}  // namespace driftglow::maps
