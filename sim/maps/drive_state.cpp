#include "sim/maps/drive_state.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numeric>
#include <type_traits>

#include "models/error.hpp"
#include "sim/maps/field_file.hpp"
#include "sim/maps/stored.hpp"
#include "sim/maps/stored_maps.hpp"
#include "sim/scenario/drive_parts.hpp"
#include "sim/store/digest.hpp"

namespace driftglow::maps {
namespace {

// Raised whenever the map's computation changes its numbers.
constexpr int map_version = 1;
constexpr std::uint64_t probe_seed = 1;

coil::MapExtent extent(const scenario::Scenario& scenario) {
  return {scenario.vessel.widest_radius(), scenario.vessel.height};
}

driver::Surroundings surroundings_of(const scenario::Scenario& scenario) {
  return {scenario.ambient.temperature, scenario.ambient.pressure};
}

std::string winding_text(const scenario::Winding& w) {
  std::string text = fmt::format("{} {} {} {} {} {} ", w.inner_diameter, w.turns, w.layers,
                                 w.wire.bare_diameter, w.wire.enamelled_diameter, w.pitch);
  if (const auto& litz = w.wire.litz)
    text += fmt::format("litz {} {} {} ", litz->strands, litz->strand_diameter, litz->lay_factor);
  return text;
}

std::string driver_text(const scenario::CurrentFedPushPull& d) {
  return fmt::format("{} {} {} {} {} {}", d.supply_voltage, d.voltage_drop, d.capacitance,
                     d.capacitor_loss_tangent, static_cast<int>(d.chokes), d.choke_inductance);
}
std::string driver_text(const scenario::VoltageFedSeries& d) {
  return fmt::format("bridge {} {} {} {} {} {}", static_cast<int>(d.bridge), d.supply_voltage,
                     d.switch_resistance, d.capacitance, d.capacitor_loss_tangent, d.frequency.value_or(0.0));
}
std::string driver_text(const scenario::GivenCurrent& d) {
  return fmt::format("{} {}", d.current_peak, d.frequency);
}

std::string conductor_text(const scenario::Conductor& c) {
  std::string text = fmt::format("metal {} {} ", static_cast<int>(c.metal), c.joint_resistance);
  if (const auto* ring = std::get_if<scenario::Ring>(&c.shape)) {
    text += fmt::format("ring {} {} ", ring->height, ring->diameter);
  } else {
    const auto& cage = std::get<scenario::Cage>(c.shape);
    text += fmt::format("cage {} {} {} {} ", cage.low, cage.high, cage.diameter, cage.rods);
  }
  if (const auto* round = std::get_if<coil::RoundSection>(&c.section)) {
    text += fmt::format("round {} ", round->diameter);
  } else {
    const auto& flat = std::get<coil::RectangularSection>(c.section);
    text += fmt::format("flat {} {} ", flat.width, flat.height);
  }
  return text;
}

// What a map per ampere of coils on the vessel's axis follows from.
std::string coaxial_text(const scenario::Scenario& scenario, const scenario::CoilDrive& drive) {
  const auto reach = tag_reach(scenario);
  std::string text = fmt::format("{} {} {} {} {} {} ", map_version, 2.0 * scenario.vessel.widest_radius(),
                                 scenario.vessel.height, reach.radius, reach.low, reach.high);
  for (const auto& c : drive.coils)
    text += fmt::format("{} {}{} ", c.centre[2], winding_text(c.winding), c.sense);
  return text;
}

// Digest of all that coil.h5 follows from.
std::string dependencies(const scenario::Scenario& scenario, const scenario::CoilDrive& drive) {
  const auto reach = tag_reach(scenario);
  std::string text = fmt::format(
      "{} {} {} {} {} {} {} {} ", map_version, 2.0 * scenario.vessel.widest_radius(), scenario.vessel.height,
      reach.radius, reach.low, reach.high, scenario.ambient.temperature, scenario.ambient.pressure);
  const auto driver_of_circuit = [&](int circuit) {
    return std::visit([](const auto& own) { return driver_text(own); }, driver_of(drive, circuit));
  };
  if (drive.coaxial()) {
    const auto& surroundings = scenario.ambient;
    return store::sha256_hex(coaxial_text(scenario, drive) +
                             fmt::format("{} {} ", surroundings.temperature, surroundings.pressure) +
                             driver_of_circuit(0) + drive.circuits.front().name);
  }
  text += "volume ";
  for (const auto& c : drive.coils)
    text += fmt::format("{} {} {} {} {} {} {}{} {} ", c.centre[0], c.centre[1], c.centre[2], c.axis[0],
                        c.axis[1], c.axis[2], winding_text(c.winding), c.sense, c.circuit);
  for (int i = 0; i < static_cast<int>(drive.circuits.size()); ++i) {
    const auto& c = drive.circuits[i];
    text +=
        fmt::format("{} {} {} {} ", c.name, static_cast<int>(c.connection), c.phase, driver_of_circuit(i));
  }
  for (const auto& c : drive.conductors) text += conductor_text(c);
  return store::sha256_hex(text);
}

// What the driver's model refuses stands where the circuit does.
driver::OperatingPoint solve_driver(const Driver& driver, const driver::CoilLoad& load,
                                    const driver::Surroundings& surroundings, const std::string& where) {
  try {
    return std::visit([&](const auto& own) { return driver::operating_point(own, load, surroundings); },
                      driver);
  } catch (const InputError& error) {
    throw InputError(where + error.what());
  }
}

// A further circuit at the first one's frequency. A self-oscillating driver keeps that frequency when its own
// is near: its capacitor is then taken as trimmed to it.
driver::OperatingPoint locked(Driver driver, double frequency, const scenario::Circuit& circuit,
                              const std::string& first, const driver::CoilLoad& load,
                              const driver::Surroundings& surroundings) {
  if (auto* bridge = std::get_if<scenario::VoltageFedSeries>(&driver)) bridge->frequency.reset();
  driver::OperatingPoint own = solve_driver(driver, load, surroundings, circuit.where);
  constexpr double most_off = 0.01;
  const double off = own.frequency / frequency - 1.0;
  const auto capacitor = [&]() -> double& {
    if (auto* bridge = std::get_if<scenario::VoltageFedSeries>(&driver)) return bridge->capacitance;
    return std::get<scenario::CurrentFedPushPull>(driver).capacitance;
  };
  if (std::fabs(off) > most_off)
    throw InputError(
        fmt::format("{}the circuit `{}` resonates at {:.4g} kHz, {:+.1f} % off the {:.4g} kHz "
                    "of the circuit `{}`, which leads; "
                    "expected within 1 %: its capacitor of {:.4g} nF would have to be {:.4g} nF",
                    circuit.where, circuit.name, 1e-3 * own.frequency, 100.0 * off, 1e-3 * frequency, first,
                    1e9 * capacitor(), 1e9 * capacitor() * (1.0 + off) * (1.0 + off)));
  if (auto* bridge = std::get_if<scenario::VoltageFedSeries>(&driver)) {
    bridge->frequency = frequency;
    return solve_driver(driver, load, surroundings, circuit.where);
  }
  for (int i = 0; i < 50 && std::fabs(own.frequency / frequency - 1.0) > 1e-12; ++i) {
    const double ratio = own.frequency / frequency;
    capacitor() *= ratio * ratio;
    own = solve_driver(driver, load, surroundings, circuit.where);
  }
  own.frequency = frequency;
  return own;
}

coil::CoilSystem system_of(const scenario::CoilDrive& drive) {
  std::vector<coil::PlacedCoil> coils;
  for (const auto& c : drive.coils) coils.push_back(scenario::placed(c));
  std::vector<coil::CoilCircuit> circuits;
  for (const auto& circuit : drive.circuits) {
    circuits.push_back({circuit.connection, {}});
    for (std::size_t k = 0; k < drive.coils.size(); ++k)
      if (drive.coils[k].circuit == circuit.name) circuits.back().coils.push_back(static_cast<int>(k));
  }
  std::vector<coil::ShortedTurn> loops;
  for (const auto& conductor : drive.conductors) {
    for (auto& loop : scenario::loops_of(conductor)) loops.push_back(std::move(loop));
  }
  return {std::move(coils), std::move(circuits), std::move(loops)};
}

// Whether a file is there that all the same follows from.
bool is_kept(const std::filesystem::path& path, const std::string& depends_on) {
  if (path.empty() || !std::filesystem::exists(path)) return false;
  return store::Reader(path, remedy).text("/", "depends_on") == depends_on;
}

std::optional<coil::VolumeMap> stored_volume(const std::filesystem::path& path,
                                             const std::string& depends_on) {
  if (!is_kept(path, depends_on)) return std::nullopt;
  return read_volume_map(store::Reader(path, remedy));
}

std::optional<coil::CoilMap> stored_map(const std::filesystem::path& path, const std::string& depends_on,
                                        const std::string& circuit) {
  if (!is_kept(path, depends_on)) return std::nullopt;
  return read_coil_map(store::Reader(path, remedy), circuit);
}

CoaxialDrive coaxial_coils(const scenario::Scenario& scenario, const scenario::CoilDrive& drive) {
  std::vector<coil::WoundCoil> coils;
  for (const auto& c : drive.coils) coils.push_back(scenario::wound(c));
  coil::SeriesCircuit circuit(std::move(coils));
  auto point =
      solve_driver(driver_of(drive, 0), circuit, surroundings_of(scenario), drive.circuits.front().where);
  return {std::move(circuit), std::move(point)};
}

DriveState coaxial_drive(const scenario::Scenario& scenario, const scenario::CoilDrive& drive,
                         const std::filesystem::path& stored, SharedCoilMaps* shared) {
  auto coils = coaxial_coils(scenario, drive);
  auto kept = stored_map(stored, dependencies(scenario, drive), drive.circuits.front().name);
  const std::string digest = shared ? store::sha256_hex(coaxial_text(scenario, drive)) : "";
  if (!kept && shared) kept = shared->find(digest);
  const MapOrigin origin = kept ? MapOrigin::reused : MapOrigin::computed;
  if (!kept) {
    kept = coil::CoilMap::computed(coils.circuit.turns(), extent(scenario), tag_reach(scenario), probe_seed);
    if (shared) shared->add(digest, *kept);
  }
  const double frequency = coils.point.frequency;
  return {frequency, CoilState{std::move(coils), std::move(*kept), origin}};
}

Eigen::VectorXcd terminal_currents(const scenario::CoilDrive& drive,
                                   const std::vector<DrivenCircuit>& circuits) {
  Eigen::VectorXcd terminal(static_cast<Eigen::Index>(circuits.size()));
  for (std::size_t i = 0; i < circuits.size(); ++i)
    terminal[static_cast<Eigen::Index>(i)] =
        std::polar(circuits[i].point.current_peak, drive.circuits[i].phase);
  return terminal;
}

// Passive metal is taken at the room's temperature.
SystemDrive system_coils(const scenario::Scenario& scenario, const scenario::CoilDrive& drive) {
  const auto surroundings = surroundings_of(scenario);
  coil::CoilSystem system = system_of(drive);
  std::vector<DrivenCircuit> circuits;
  double temperature = 0.0;
  for (int i = 0; i < system.circuits(); ++i) {
    const auto& given = drive.circuits[i];
    const driver::CoilLoad load(system, i, surroundings.temperature);
    const auto own = driver_of(drive, i);
    const bool follows = i > 0 && !std::holds_alternative<scenario::GivenCurrent>(own);
    auto point = follows ? locked(own, circuits.front().point.frequency, given, circuits.front().name, load,
                                  surroundings)
                         : solve_driver(own, load, surroundings, given.where);
    for (const double t : point.copper_temperature) temperature += t / system.coils();
    circuits.push_back({given.name, given.phase, std::move(point)});
  }
  auto response = system.response(circuits.front().point.frequency, {temperature, surroundings.temperature});
  Eigen::VectorXcd currents = response.currents * terminal_currents(drive, circuits);
  return {std::move(system), surroundings.temperature, std::move(circuits), std::move(response),
          std::move(currents)};
}

DriveState system_drive(const scenario::Scenario& scenario, const scenario::CoilDrive& drive,
                        const std::filesystem::path& stored) {
  auto coils = system_coils(scenario, drive);
  auto kept = stored_volume(stored, dependencies(scenario, drive));
  const MapOrigin origin = kept ? MapOrigin::reused : MapOrigin::computed;
  if (!kept)
    kept = coil::VolumeMap::computed(
        coils.system, coil::current_parts(coils.response, terminal_currents(drive, coils.circuits)),
        {extent(scenario).radius, 0.0, extent(scenario).height}, tag_reach(scenario), probe_seed);
  const double frequency = coils.circuits.front().point.frequency;
  return {frequency, SystemState{std::move(coils), std::move(*kept), origin}};
}

std::vector<CircuitView> views_of(const CoaxialDrive& coaxial) {
  std::vector<int> all(coaxial.circuit.coils().size());
  std::iota(all.begin(), all.end(), 0);
  return {{0, coaxial.point, coaxial.circuit, std::move(all)}};
}
std::vector<CircuitView> views_of(const SystemDrive& drive) {
  std::vector<CircuitView> circuits;
  for (int i = 0; i < drive.system.circuits(); ++i)
    circuits.push_back({i, drive.circuits[i].point, drive.load(i), drive.system.circuit(i).coils});
  return circuits;
}
std::vector<CircuitView> views_of(const scenario::UniformField&) {
  return {};
}
std::vector<CircuitView> views_of(const MeasuredDrive&) {
  return {};
}

MeasuredDrive measured_drive(const scenario::Scenario& scenario, const scenario::MeasuredField& given) {
  const auto [radius, height] = extent(scenario);
  return {given.frequency, read_field(given, {radius, 0.0, height}, tag_reach(scenario))};
}

DriveState measured_state(const scenario::Scenario& scenario, const scenario::MeasuredField& given) {
  auto drive = measured_drive(scenario, given);
  const auto [radius, height] = extent(scenario);
  // Readings are no better.
  constexpr double wanted_error = 1e-3;
  auto map = coil::VolumeMap::computed(drive.fit.field, drive.fit.parts, {radius, 0.0, height},
                                       tag_reach(scenario), probe_seed, wanted_error);
  return {given.frequency, MeasuredState{std::move(drive), std::move(map)}};
}

// Of the ellipse that two vectors in quadrature draw.
double larger_semi_axis(const Eigen::Vector3d& first, const Eigen::Vector3d& second) {
  const double a = first.squaredNorm(), b = second.squaredNorm();
  return std::sqrt(0.5 * (a + b + std::hypot(a - b, 2.0 * first.dot(second))));
}

void write_circuit(store::Writer& file, const std::string& group, const driver::OperatingPoint& point) {
  file.set_number(group, "L", point.L, "H");
  file.set_number(group, "R", point.resistance.total, "ohm");
  file.set_number(group, "frequency", point.frequency, "Hz");
  file.set_number(group, "current_peak", point.current_peak, "A");
}

template <class Map>
void write_check(store::Writer& file, const Map& map, const std::string& unit) {
  file.set_number("/check", "interpolation_error", map.error(), "1");
  file.set_number("/check", "rms_flux_density", map.rms_flux_density(), unit);
}

void write_coaxial(store::Writer& file, const CoilState& coils, const std::string& circuit) {
  write_axis(file, "/axes/r", coils.map.r(), "distance from the vessel's axis");
  write_axis(file, "/axes/z", coils.map.z(), "height above the floor mesh");
  const std::string group = "/circuit/" + circuit;
  Eigen::MatrixXd radial = coils.map.radial_over_r();
  for (int i = 0; i < radial.rows(); ++i) radial.row(i) *= coils.map.r().at(i);
  write_matrix(file, group + "/B_r", radial, {"T/A", "radial flux density per ampere, [r][z]"});
  write_matrix(file, group + "/B_z", coils.map.axial(), {"T/A", "axial flux density per ampere, [r][z]"});
  write_matrix(file, group + "/B_r_over_r", coils.map.radial_over_r(),
               {"T/(A m)", "radial flux density per ampere over r, its limit on the axis, [r][z]"});
  write_circuit(file, group, coils.point);
  write_check(file, coils.map, "T/A");
}

void write_system(store::Writer& file, const SystemState& state, double vessel_radius) {
  const auto& axes = state.map.axes();
  write_axis(file, "/axes/x", axes[0], "across, from the vessel's axis");
  write_axis(file, "/axes/y", axes[1], "across, from the vessel's axis, right-handed with x and z");
  write_axis(file, "/axes/z", axes[2], "height above the floor mesh");
  const store::Extents grid{static_cast<std::uint64_t>(axes[0].nodes),
                            static_cast<std::uint64_t>(axes[1].nodes),
                            static_cast<std::uint64_t>(axes[2].nodes)};
  auto with_parts = grid;
  with_parts.push_back(static_cast<std::uint64_t>(state.map.parts()));
  with_parts.push_back(3);
  file.write(
      "/parts/B", state.map.values(), with_parts,
      {"T",
       "peak flux density of all circuits and the metal, in phase and (where there is a second part) a "
       "quarter period later, [x][y][z][part][component]; outside the vessel a smooth continuation"});
  const Eigen::MatrixXcd& per_ampere = state.response.currents;
  const bool shifted = per_ampere.imag().norm() > 1e-4 * per_ampere.real().norm();
  constexpr const char* components[] = {"B_x", "B_y", "B_z"};
  const std::size_t nodes = grid[0] * grid[1] * grid[2];
  for (std::size_t c = 0; c < state.circuits.size(); ++c) {
    const std::string group = "/circuit/" + state.circuits[c].name;
    const Eigen::VectorXcd weights = per_ampere.col(static_cast<Eigen::Index>(c));
    // In phase with the circuit's current, then what lags it.
    std::vector<double> values[2][3];
    for (auto& part : values)
      for (auto& component : part) component.assign(nodes, std::nan(""));
    std::size_t node = 0;
    for (int i = 0; i < axes[0].nodes; ++i) {
      for (int j = 0; j < axes[1].nodes; ++j) {
        for (int l = 0; l < axes[2].nodes; ++l, ++node) {
          const Eigen::Vector3d p(axes[0].at(i), axes[1].at(j), axes[2].at(l));
          if (std::hypot(p.x(), p.y()) > vessel_radius) continue;
          const Eigen::Vector3cd B = state.system.fields(p) * weights;
          for (int k = 0; k < 3; ++k) {
            values[0][k][node] = B[k].real();
            values[1][k][node] = -B[k].imag();
          }
        }
      }
    }
    for (int k = 0; k < 3; ++k) {
      const std::string name = group + "/" + components[k];
      file.write(name, values[0][k], grid,
                 {"T/A",
                  "flux density per ampere of this circuit, with the metal's, not a number outside the "
                  "vessel, [x][y][z]"});
      if (shifted)
        file.write(name + "_lagging", values[1][k], grid,
                   {"T/A", "what lags this circuit's current by a quarter period, per ampere, [x][y][z]"});
    }
    write_circuit(file, group, state.circuits[c].point);
    file.set_number(group, "phase", state.circuits[c].phase, "rad");
  }
  write_check(file, state.map, "T");
}

}  // namespace

coil::Reach tag_reach(const scenario::Scenario& scenario) {
  const double radius = scenario.vessel.widest_radius(), height = scenario.vessel.height;
  coil::Reach reach{0.0, height, 0.0};
  const auto include = [&](double r, double low, double high) {
    reach = {std::max(reach.radius, r), std::min(reach.low, low), std::max(reach.high, high), reach.slope};
  };
  for (const auto& tag : scenario.tags) {
    if (tag.hold) {
      const auto& p = tag.hold->place;
      // A held place alone would be an empty region: a millimetre about it.
      include(std::min(radius, std::hypot(p[0], p[1]) + 1e-3), std::max(0.0, p[2] - 1e-3),
              std::min(height, p[2] + 1e-3));
    } else {
      // The cone that keeps a radius away from the wall ends a radius from floor and lid.
      const double slope = scenario.vessel.slope;
      const double apart = tag.body.radius * (std::hypot(1.0, slope) + std::fabs(slope));
      include(radius - apart, tag.body.radius, height - tag.body.radius);
      reach.slope = slope;
    }
  }
  return reach;
}

coil::WoundCoil wound_receiver(const scenario::Winding& winding) {
  return coil::wind(winding, 0.0, coil::Sense::right_handed);
}

std::optional<coil::CoilMap> SharedCoilMaps::find(const std::string& digest) {
  const std::lock_guard lock(mutex_);
  const auto found =
      std::find_if(kept_.begin(), kept_.end(), [&](const Kept& kept) { return kept.digest == digest; });
  if (found == kept_.end()) return std::nullopt;
  kept_.splice(kept_.begin(), kept_, found);
  ++found_;
  return found->map;
}

void SharedCoilMaps::add(const std::string& digest, const coil::CoilMap& map) {
  constexpr std::size_t most = 16;
  const std::lock_guard lock(mutex_);
  kept_.push_front({digest, map});
  if (kept_.size() > most) kept_.pop_back();
}

DrivenCoils drive_coils(const scenario::Scenario& scenario) {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&scenario.drive)) return *uniform;
  if (const auto* given = std::get_if<scenario::MeasuredField>(&scenario.drive))
    return measured_drive(scenario, *given);
  const auto& drive = std::get<scenario::CoilDrive>(scenario.drive);
  if (drive.coaxial()) return coaxial_coils(scenario, drive);
  return system_coils(scenario, drive);
}

DriveState make_drive(const scenario::Scenario& scenario, const std::filesystem::path& stored,
                      SharedCoilMaps* shared) {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&scenario.drive)) {
    return {uniform->frequency, *uniform};
  }
  if (const auto* given = std::get_if<scenario::MeasuredField>(&scenario.drive))
    return measured_state(scenario, *given);
  const auto& drive = std::get<scenario::CoilDrive>(scenario.drive);
  return drive.coaxial() ? coaxial_drive(scenario, drive, stored, shared)
                         : system_drive(scenario, drive, stored);
}

const coil::VolumeMap* DriveState::volume() const {
  if (const auto* system = std::get_if<SystemState>(&field)) return &system->map;
  if (const auto* measured = std::get_if<MeasuredState>(&field)) return &measured->map;
  return nullptr;
}

double DriveState::flux_density_peak(const Eigen::Vector3d& p_W) const {
  if (const auto* coils = std::get_if<CoilState>(&field)) {
    const double r = std::hypot(p_W.x(), p_W.y());
    const auto B = coils->map.field(r, p_W.z());
    return coils->point.current_peak * std::hypot(r * B.radial_over_r, B.axial);
  }
  if (const auto* map = volume()) {
    const Eigen::Matrix3Xd B = map->field(p_W);
    return B.cols() == 1 ? B.col(0).norm() : larger_semi_axis(B.col(0), B.col(1));
  }
  const auto& uniform = std::get<scenario::UniformField>(field);
  if (!uniform.quadrature_axis) return uniform.flux_density_peak;
  const auto &a = uniform.axis, &b = *uniform.quadrature_axis;
  return uniform.flux_density_peak * larger_semi_axis({a[0], a[1], a[2]}, {b[0], b[1], b[2]});
}

std::vector<CircuitView> circuits_of(const DriveState& drive) {
  return std::visit([](const auto& field) { return views_of(field); }, drive.field);
}

std::vector<CircuitView> circuits_of(const DrivenCoils& coils) {
  return std::visit([](const auto& own) { return views_of(own); }, coils);
}

double frequency_of(const DrivenCoils& coils) {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&coils)) return uniform->frequency;
  if (const auto* measured = std::get_if<MeasuredDrive>(&coils)) return measured->frequency;
  return circuits_of(coils).front().point.frequency;
}

Driver driver_of(const scenario::CoilDrive& drive, int circuit) {
  const auto& own = drive.circuits.at(circuit);
  Driver driver = drive.driver;
  std::visit(
      [&](auto& d) {
        if constexpr (std::is_same_v<std::decay_t<decltype(d)>, scenario::GivenCurrent>) {
          d.current_peak *= own.current_ratio;
        } else {
          d.capacitance = own.capacitance.value_or(d.capacitance);
        }
      },
      driver);
  return driver;
}

coil::CoilMap read_coil_map(const store::Reader& file, const std::string& circuit) {
  const auto r = read_axis(file, "/axes/r"), z = read_axis(file, "/axes/z");
  file.expect(r.first == 0.0, "/axes/r does not begin on the axis");
  const auto part = [&](const char* name) {
    const std::string path = "/circuit/" + circuit + name;
    auto values = read_matrix(file, path);
    file.expect(values.rows() == r.nodes && values.cols() == z.nodes, path + " does not fit its axes");
    return values;
  };
  return {r,
          z,
          part("/B_r_over_r"),
          part("/B_z"),
          read_plausible(file, "/check", "interpolation_error"),
          read_plausible(file, "/check", "rms_flux_density")};
}

coil::VolumeMap read_volume_map(const store::Reader& file) {
  const std::string path = "/parts/B";
  auto stored = file.read<double>(path, 5);
  expect_plausible(file, path, stored.values);
  const std::array axes{read_axis(file, "/axes/x"), read_axis(file, "/axes/y"), read_axis(file, "/axes/z")};
  const auto& extents = stored.extents;
  bool fits = (extents[3] == 1 || extents[3] == 2) && extents[4] == 3;
  for (int axis = 0; axis < 3; ++axis)
    fits = fits && extents[axis] == static_cast<std::uint64_t>(axes[axis].nodes);
  file.expect(fits, path + " does not fit its axes");
  return {axes, static_cast<int>(extents[3]), std::move(stored.values),
          read_plausible(file, "/check", "interpolation_error"),
          read_plausible(file, "/check", "rms_flux_density")};
}

void write_coils(const DriveState& drive, const scenario::Scenario& scenario,
                 const std::string& program_version, const std::filesystem::path& path,
                 const store::Run& run) {
  const auto* coils = std::get_if<CoilState>(&drive.field);
  const auto* system = std::get_if<SystemState>(&drive.field);
  if (coils == nullptr && system == nullptr) return;
  const MapOrigin origin = coils != nullptr ? coils->origin : system->origin;
  if (origin == MapOrigin::reused && std::filesystem::exists(path)) return;
  const auto& given = std::get<scenario::CoilDrive>(scenario.drive);
  store::Writer file(path, {program_version, scenario.text, scenario.hash, scenario.flight.seed});
  file.set_text("/", "depends_on", dependencies(scenario, given));
  coils != nullptr ? write_coaxial(file, *coils, given.circuits.front().name)
                   : write_system(file, *system, extent(scenario).radius);
  file.commit(run);
}

}  // namespace driftglow::maps
