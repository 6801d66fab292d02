#include "sim/maps/drive_state.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/maps/stored.hpp"
#include "sim/store/digest.hpp"

namespace driftglow::maps {
namespace {

// Raised whenever the map's computation changes its numbers.
constexpr int map_version = 1;
constexpr std::uint64_t probe_seed = 1;

coil::MapExtent extent(const scenario::Scenario& scenario) {
  return {0.5 * scenario.vessel.inner_diameter, scenario.vessel.height};
}

// Digest of all that coil.h5 follows from.
std::string dependencies(const scenario::Scenario& scenario, const scenario::CoilDrive& drive) {
  const auto reach = tag_reach(scenario);
  std::string text = fmt::format("{} {} {} {} {} {} {} {} ", map_version, scenario.vessel.inner_diameter,
                                 scenario.vessel.height, reach.radius, reach.low, reach.high,
                                 scenario.ambient.temperature, scenario.ambient.pressure);
  for (const auto& c : drive.coils) {
    const auto& w = c.winding;
    text += fmt::format("{} {} {} {} {} {} {} {} ", c.centre_height, w.inner_diameter, w.turns, w.layers,
                        w.wire.bare_diameter, w.wire.enamelled_diameter, w.pitch, c.sense);
  }
  if (const auto* own = std::get_if<scenario::CurrentFedPushPull>(&drive.driver)) {
    text += fmt::format("{} {} {} {} {} {}", own->supply_voltage, own->voltage_drop, own->capacitance,
                        own->capacitor_loss_tangent, static_cast<int>(own->chokes), own->choke_inductance);
  } else {
    const auto& given = std::get<scenario::GivenCurrent>(drive.driver);
    text += fmt::format("{} {}", given.current_peak, given.frequency);
  }
  return store::sha256_hex(text + drive.circuit);
}

driver::OperatingPoint solve_driver(const scenario::Scenario& scenario, const scenario::CoilDrive& drive,
                                    const coil::SeriesCircuit& circuit) {
  const driver::Surroundings surroundings{scenario.ambient.temperature, scenario.ambient.pressure};
  return std::visit([&](const auto& own) { return driver::operating_point(own, circuit, surroundings); },
                    drive.driver);
}

numeric::UniformAxis read_axis(const store::Reader& file, const std::string& path) {
  const auto nodes = file.read<double>(path, 1).values;
  const int count = static_cast<int>(nodes.size());
  return {nodes.front(), (nodes.back() - nodes.front()) / (count - 1), count};
}

Eigen::MatrixXd read_matrix(const store::Reader& file, const std::string& path) {
  const auto stored = file.read<double>(path, 2);
  return Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
      stored.values.data(), static_cast<Eigen::Index>(stored.extents[0]),
      static_cast<Eigen::Index>(stored.extents[1]));
}

std::optional<coil::CoilMap> stored_map(const std::filesystem::path& path, const std::string& depends_on,
                                        const std::string& circuit) {
  if (path.empty() || !std::filesystem::exists(path)) return std::nullopt;
  const store::Reader file(path, "remove it and it will be computed again");
  const std::string group = "/circuit/" + circuit;
  if (!file.has(group) || file.text("/", "depends_on") != depends_on) return std::nullopt;
  return coil::CoilMap(read_axis(file, "/axes/r"), read_axis(file, "/axes/z"),
                       read_matrix(file, group + "/B_r_over_r"), read_matrix(file, group + "/B_z"),
                       file.number("/check", "interpolation_error"),
                       file.number("/check", "rms_flux_density"));
}

}  // namespace

coil::Reach tag_reach(const scenario::Scenario& scenario) {
  const double radius = 0.5 * scenario.vessel.inner_diameter, height = scenario.vessel.height;
  coil::Reach reach{0.0, height, 0.0};
  const auto include = [&](double r, double low, double high) {
    reach = {std::max(reach.radius, r), std::min(reach.low, low), std::max(reach.high, high)};
  };
  for (const auto& tag : scenario.tags) {
    if (tag.hold) {
      const auto& p = tag.hold->place;
      // A held place alone would be an empty region: a millimetre about it.
      include(std::min(radius, std::hypot(p[0], p[1]) + 1e-3), std::max(0.0, p[2] - 1e-3),
              std::min(height, p[2] + 1e-3));
    } else {
      include(radius - tag.body.radius, tag.body.radius, height - tag.body.radius);
    }
  }
  return reach;
}

coil::WoundCoil wound(const scenario::Coil& coil) {
  return coil::wind(coil.winding, coil.centre_height,
                    coil.sense > 0 ? coil::Sense::right_handed : coil::Sense::left_handed);
}

coil::WoundCoil wound_receiver(const scenario::Winding& winding) {
  return coil::wind(winding, 0.0, coil::Sense::right_handed);
}

DriveState make_drive(const scenario::Scenario& scenario, const std::filesystem::path& stored) {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&scenario.drive)) {
    return {uniform->frequency, *uniform};
  }
  const auto& drive = std::get<scenario::CoilDrive>(scenario.drive);
  std::vector<coil::WoundCoil> coils;
  for (const auto& c : drive.coils) coils.push_back(wound(c));
  coil::SeriesCircuit circuit(std::move(coils));
  auto point = solve_driver(scenario, drive, circuit);
  auto kept = stored_map(stored, dependencies(scenario, drive), drive.circuit);
  const MapOrigin origin = kept ? MapOrigin::reused : MapOrigin::computed;
  if (!kept)
    kept = coil::CoilMap::computed(circuit.turns(), extent(scenario), tag_reach(scenario), probe_seed);
  const double frequency = point.frequency;
  return {frequency, CoilState{std::move(circuit), std::move(point), std::move(*kept), origin}};
}

void write_coils(const DriveState& drive, const scenario::Scenario& scenario,
                 const std::string& program_version, const std::filesystem::path& path,
                 const store::Run& run) {
  const auto* coils = std::get_if<CoilState>(&drive.field);
  if (coils == nullptr || (coils->origin == MapOrigin::reused && std::filesystem::exists(path))) return;
  const auto& given = std::get<scenario::CoilDrive>(scenario.drive);
  store::Writer file(path, {program_version, scenario.text, scenario.hash, scenario.flight.seed});
  file.set_text("/", "depends_on", dependencies(scenario, given));
  write_axis(file, "/axes/r", coils->map.r(), "distance from the vessel's axis");
  write_axis(file, "/axes/z", coils->map.z(), "height above the floor mesh");
  const std::string group = "/circuit/" + given.circuit;
  Eigen::MatrixXd radial = coils->map.radial_over_r();
  for (int i = 0; i < radial.rows(); ++i) radial.row(i) *= coils->map.r().at(i);
  write_matrix(file, group + "/B_r", radial, {"T/A", "radial flux density per ampere, [r][z]"});
  write_matrix(file, group + "/B_z", coils->map.axial(), {"T/A", "axial flux density per ampere, [r][z]"});
  write_matrix(file, group + "/B_r_over_r", coils->map.radial_over_r(),
               {"T/(A m)", "radial flux density per ampere over r, its limit on the axis, [r][z]"});
  file.set_number(group, "L", coils->point.L, "H");
  file.set_number(group, "R", coils->point.resistance.total, "ohm");
  file.set_number(group, "frequency", coils->point.frequency, "Hz");
  file.set_number(group, "current_peak", coils->point.current_peak, "A");
  file.set_number("/check", "interpolation_error", coils->map.error(), "1");
  file.set_number("/check", "rms_flux_density", coils->map.rms_flux_density(), "T/A");
  file.commit(run);
}

}  // namespace driftglow::maps
