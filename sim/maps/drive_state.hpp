#pragma once

#include <filesystem>
#include <list>
#include <mutex>
#include <optional>
#include <variant>

#include "models/coil/coil_map.hpp"
#include "models/coil/coil_system.hpp"
#include "models/coil/flux_linkage.hpp"
#include "models/coil/measured_field.hpp"
#include "models/coil/volume_map.hpp"
#include "models/driver/operating_point.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::maps {

enum class MapOrigin { computed, reused };

// Coils on the vessel's axis and what drives them.
struct CoaxialDrive {
  coil::SeriesCircuit circuit;
  driver::OperatingPoint point;
};

// The same with the field per ampere.
struct CoilState : CoaxialDrive {
  coil::CoilMap map;
  MapOrigin origin;
};

// One circuit of a coil system and what its driver makes of it, the other circuits' terminals open.
struct DrivenCircuit {
  std::string name;
  double phase;  // rad, of its current
  driver::OperatingPoint point;
};

// Coils anywhere in circuits, with passive conductors. The field is that of the circuits' currents, each with
// its driver's amplitude and its phase; what one circuit induces in another's terminals is left to the
// drivers.
struct SystemDrive {
  coil::CoilSystem system;
  double metal_temperature;             // K
  std::vector<DrivenCircuit> circuits;  // as the scenario's
  coil::SystemResponse response;        // at the frequency and the coils' mean temperature
  Eigen::VectorXcd currents;            // A peak, of all conductors: coils, then loops of passive metal

  driver::CoilLoad load(int circuit) const { return {system, circuit, metal_temperature}; }
};
struct SystemState : SystemDrive {
  coil::VolumeMap map;  // T peak: in phase, and where the phases differ a quarter period later
  MapOrigin origin;
};

// The user's own map and what the fit made of it.
struct MeasuredDrive {
  double frequency;  // Hz
  coil::MeasuredField fit;
};
struct MeasuredState : MeasuredDrive {
  coil::VolumeMap map;  // T peak
};

struct DriveState {
  double frequency;  // Hz
  std::variant<scenario::UniformField, CoilState, SystemState, MeasuredState> field;

  // The map on (x, y, z) of what has one.
  const coil::VolumeMap* volume() const;

  // |B| [T peak] at p_W, the larger semi-axis of a turning field.
  double flux_density_peak(const Eigen::Vector3d& p_W) const;
};

// A drive without its map, for what needs none.
using DrivenCoils = std::variant<scenario::UniformField, CoaxialDrive, SystemDrive, MeasuredDrive>;
double frequency_of(const DrivenCoils& coils);  // Hz

// A circuit of the drive, whatever state it comes from.
struct CircuitView {
  int number;
  const driver::OperatingPoint& point;
  driver::CoilLoad load;
  std::vector<int> coils;  // by their numbers in the scenario
};
// As the scenario's; none in a uniform field or a measured one. Refers into `drive`.
std::vector<CircuitView> circuits_of(const DriveState& drive);
std::vector<CircuitView> circuits_of(const DrivenCoils& coils);

using Driver = decltype(scenario::CoilDrive::driver);
// The driver of one circuit, with the circuit's own capacitor or its share of a given current.
Driver driver_of(const scenario::CoilDrive& drive, int circuit);

// Where tags' centres can be: the smallest tag's reach in the vessel, widened to held tags.
coil::Reach tag_reach(const scenario::Scenario& scenario);

coil::WoundCoil wound_receiver(const scenario::Winding& winding);

// Coil maps that several scenarios have in common, by a digest of the coils and what else a map follows from,
// but not of what feeds them. For several threads; of those used least recently the oldest is forgotten.
class SharedCoilMaps {
 public:
  std::optional<coil::CoilMap> find(const std::string& digest);
  void add(const std::string& digest, const coil::CoilMap& map);
  int found() const { return found_; }

 private:
  struct Kept {
    std::string digest;
    coil::CoilMap map;
  };
  std::mutex mutex_;
  std::list<Kept> kept_;  // the last one used first
  int found_ = 0;
};

// Solves the drivers. Throws InputError.
DrivenCoils drive_coils(const scenario::Scenario& scenario);

// Solves the drivers and gets the coil map: from `stored` where that file exists and everything it depends on
// is the same, else computed. Throws InputError, also when the file is there but not whole.
DriveState make_drive(const scenario::Scenario& scenario, const std::filesystem::path& stored,
                      SharedCoilMaps* shared = nullptr);

// coil.h5 of interface.md. Nothing is written for a uniform field, a measured one (it is made
// anew from its file every time) or a map that was reused from `path`.
void write_coils(const DriveState& drive, const scenario::Scenario& scenario,
                 const std::string& program_version, const std::filesystem::path& path,
                 const store::Run& run);

}  // namespace driftglow::maps
