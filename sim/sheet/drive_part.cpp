#include <algorithm>
#include <cmath>
#include <numeric>

#include "models/constants.hpp"
#include "models/driver/tag_load.hpp"
#include "sim/flight/tag_draw.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

// Coil tanks are taken to be built this well where nothing is said [1].
constexpr double tank_tolerance = 0.01;

template <class Driver>
concept HasCapacitor = requires(const Driver& driver) {
  driver.capacitance;
};

template <class Driver>
std::optional<double> capacitance_of(const Driver& driver) {
  if constexpr (HasCapacitor<Driver>) return driver.capacitance;
  return std::nullopt;
}

SupplyPoint supply_point(const driver::OperatingPoint& point) {
  SupplyPoint supply{std::nullopt, std::nullopt, point.current_peak, point.frequency, point.tag_power};
  if (point.tank) {
    supply.supply_current = point.tank->supply_current;
    supply.supply_power = point.tank->supply_power;
  }
  return supply;
}

template <class Driver>
std::optional<TagDraw> draw_of(const Driver& own, const driver::CoilLoad& load,
                               const driver::Surroundings& surroundings,
                               const std::vector<driver::TagGroup>& unlit,
                               const std::vector<driver::TagGroup>& lit) {
  if (lit.empty()) return std::nullopt;
  const auto feedback = driver::tag_feedback(own, load, surroundings, unlit, lit);
  auto resonance = TagDraw::Resonance::single;
  if constexpr (HasCapacitor<Driver>) {
    if (driver::splits_resonance(feedback.empty, own.capacitance, driver::reflected_by(unlit)))
      resonance = TagDraw::Resonance::split;
  }
  return TagDraw{supply_point(feedback.empty), supply_point(feedback.unlit), supply_point(feedback.lit),
                 resonance};
}

// Whole turns about the coil's own centre, as far as the vessel's end or half-way to the next coil; only
// where all coils are on one axis.
std::optional<int> turns_about(const maps::DriveState& drive, const scenario::CoilDrive& given, int number,
                               double height) {
  if (!std::holds_alternative<maps::CoilState>(drive.field)) return std::nullopt;
  const auto& coil = given.coils[number];
  const double centre = coil.centre[2];
  double room = std::min(centre, height - centre);
  for (const auto& other : given.coils) {
    if (&other != &coil) room = std::min(room, 0.5 * std::fabs(other.centre[2] - centre));
  }
  const auto& winding = coil.winding;
  return room > 0.0 ? receiver::turns_that_fit(2.0 * room, winding.layers, winding.wire, winding.pitch) : 0;
}

// As if across the terminals: in series each coil stores its share of the energy at its share of the voltage,
// in parallel each stands at the whole voltage.
double self_capacitance_of(const std::vector<scenario::Coil>& coils, const maps::CircuitView& source,
                           scenario::Connection connection, double temperature) {
  std::vector<double> inductances;
  for (int i = 0; i < source.load.coils(); ++i) {
    inductances.push_back(
        coil::SeriesCircuit({source.load.coil(i)}).inductance(source.point.frequency, temperature));
  }
  const double all = std::accumulate(inductances.begin(), inductances.end(), 0.0);
  double sum = 0.0;
  for (std::size_t i = 0; i < inductances.size(); ++i) {
    const double share = connection == scenario::Connection::series ? inductances[i] / all : 1.0;
    const auto& winding = coils[source.coils[i]].winding;
    sum += share * share * coil::self_capacitance(winding, coil::LayerOrder::to_and_fro).value;
  }
  return sum;
}

template <class Driver>
std::optional<double> small_choke(const Driver& own, double L) {
  if constexpr (requires { own.chokes; }) {
    const double smallest = driver::smallest_trusted_choke(own.chokes, L);
    if (own.chokes != driver::Chokes::ideal && own.choke_inductance < smallest) return smallest;
  }
  return std::nullopt;
}

}  // namespace

CapacitorAid capacitor_aid(double wanted, double present) {
  const auto& decade = library::decade(capacitor_series);
  const auto choice = [&](const receiver::CapacitorChoice& capacitors) {
    const double built = capacitors.first + capacitors.second;
    return CapacitorAid::Choice{capacitors, std::sqrt((wanted + present) / (built + present)) - 1.0};
  };
  return {wanted, choice(receiver::nearest_single(wanted, decade)),
          choice(receiver::nearest_pair(wanted, decade))};
}

std::vector<DriveCircuit> circuits_of(const scenario::Scenario& scenario, const flight::Plan& plan,
                                      const coil::Reach& reach, Spreads spreads) {
  const double temperature = scenario.ambient.temperature;
  const driver::Surroundings surroundings{temperature, scenario.ambient.pressure};
  std::vector<DriveCircuit> circuits;
  for (const auto& source : maps::circuits_of(plan.drive)) {
    const auto& given = std::get<scenario::CoilDrive>(scenario.drive);
    const auto& own = given.circuits[source.number];
    const auto& point = source.point;
    const double self_capacitance = self_capacitance_of(given.coils, source, own.connection, temperature);
    const auto unlit = flight::tag_groups(plan, reach, source.number, flight::Lighting::unlit);
    const auto lit = flight::tag_groups(plan, reach, source.number, flight::Lighting::lit);
    DriveCircuit circuit{.name = own.name,
                         .coils = {},
                         .point = point,
                         .losses = {},
                         .bandwidth = point.frequency / point.Q(),
                         .bench = bench_of(source.load, temperature),
                         .self_capacitance = self_capacitance,
                         .self_resonance = std::nullopt,
                         .capacitor = std::nullopt,
                         .draw = std::nullopt,
                         .spread = std::nullopt,
                         .reflected_inductance = 0.0,
                         .reflected_resistance = 0.0,
                         .small_choke = std::nullopt,
                         .touch = safety::touch_of(point.coil_voltage_peak, point.frequency)};
    if (const auto* system = std::get_if<maps::SystemState>(&plan.drive.field)) {
      circuit.reflected_inductance = system->response.reflected_inductance(source.number);
      circuit.reflected_resistance = system->response.reflected_resistance(source.number);
    }
    const double omega = 2.0 * constant::pi * point.frequency;
    double wanted = 1.0 / (omega * omega * point.L) - self_capacitance;
    std::visit(
        [&](const auto& set) {
          circuit.losses = driver::losses(set, source.load, point);
          circuit.draw = draw_of(set, source.load, surroundings, unlit, lit);
          circuit.small_choke = small_choke(set, point.L);
          if (spreads == Spreads::made &&
              (given.tolerances.inductance > 0.0 || given.tolerances.capacitance > 0.0))
            circuit.spread = driver::tank_spread(set, source.load, surroundings, given.tolerances);
          if (const auto capacitance = capacitance_of(set)) {
            wanted = *capacitance;
            circuit.self_resonance = coil::self_resonance(point.L, self_capacitance, point.frequency,
                                                          *capacitance, tank_tolerance);
          }
        },
        maps::driver_of(given, source.number));
    if (wanted > 0.0) circuit.capacitor = capacitor_aid(wanted, self_capacitance);

    const auto copper = driver::copper_use(source.load, point, surroundings);
    for (std::size_t i = 0; i < source.coils.size(); ++i) {
      const auto& coil = given.coils[source.coils[i]];
      const auto& wound = source.load.coil(static_cast<int>(i));
      circuit.coils.push_back(
          {coil.name, coil.winding.turns, coil.winding.layers, wound.wire_length, wound.copper_mass,
           coil::SeriesCircuit({wound}).resistance(bench_frequencies.front(), temperature).dc,
           wound.outer_radius, circuit.losses.copper[i], copper[i],
           turns_about(plan.drive, given, source.coils[i], scenario.vessel.height)});
    }
    circuits.push_back(std::move(circuit));
  }
  return circuits;
}

std::vector<MetalPart> metal_of(const scenario::Scenario& scenario, const flight::Plan& plan) {
  const auto* state = std::get_if<maps::SystemState>(&plan.drive.field);
  if (state == nullptr) return {};
  const Eigen::VectorXd losses = state->system.losses(
      plan.drive.frequency, {state->metal_temperature, state->metal_temperature}, state->currents);
  std::vector<MetalPart> parts;
  int next = state->system.coils();
  for (const auto& conductor : std::get<scenario::CoilDrive>(scenario.drive).conductors) {
    const auto* cage = std::get_if<scenario::Cage>(&conductor.shape);
    const int loops = cage != nullptr ? cage->rods + 1 : 1;  // cage_meshes() says which
    MetalPart part{conductor.name, 0.0, 0.0};
    for (int i = next; i < next + loops; ++i) {
      part.current_peak = std::max(part.current_peak, std::abs(state->currents[i]));
      part.loss += losses[i];
    }
    next += loops;
    parts.push_back(std::move(part));
  }
  return parts;
}

std::vector<CircuitPair> pairs_of(const flight::Plan& plan) {
  std::vector<CircuitPair> pairs;
  const auto* state = std::get_if<maps::SystemState>(&plan.drive.field);
  if (state == nullptr) return pairs;
  const int count = static_cast<int>(state->circuits.size());
  for (int i = 0; i < count; ++i) {
    for (int j = i + 1; j < count; ++j)
      pairs.push_back({state->circuits[i].name, state->circuits[j].name, state->response.coupling(i, j)});
  }
  return pairs;
}

}  // namespace driftglow::sheet
