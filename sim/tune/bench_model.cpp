#include "sim/tune/bench_model.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/air/properties.hpp"
#include "models/constants.hpp"
#include "models/driver/tag_load.hpp"
#include "models/error.hpp"
#include "sim/flight/tag_draw.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::tune {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

Eigen::Vector3d vector_of(const std::array<double, 3>& a) {
  return {a[0], a[1], a[2]};
}

driver::Surroundings surroundings_of(const scenario::Scenario& scenario) {
  return {scenario.ambient.temperature, scenario.ambient.pressure};
}

receiver::TankDesign built(const flight::Electrical& own, std::size_t fit, const TagOffset& offset) {
  auto tank = flight::nominal_tank(own.tank, own.leds[fit]);
  tank.inductance *= offset.inductance;
  tank.capacitance *= offset.capacitance;
  if (offset.led_voltage != 0.0) {
    tank.led = tank.led.shifted(offset.led_voltage);
    if (tank.antiparallel) tank.antiparallel = tank.antiparallel->shifted(offset.led_voltage);
  }
  return tank;
}

// EMF [V peak] that lights it. The curve is followed as far as it takes.
double threshold_emf(const receiver::TankDesign& tank, const flight::LedPlan& led, double omega) {
  const double gain = std::abs(receiver::linear_response(tank, omega).voltage);
  double most = 3.0 * tank.led.forward_voltage(led.on_mean_current) / std::max(gain, 1e-3);
  constexpr double farthest = 1e4;  // V
  for (; most < farthest; most *= 4.0) {
    const double emf =
        receiver::solve_glow_curve(tank, omega, most).threshold_emf(led.on_mean_current, led.on_weights());
    if (std::isfinite(emf)) return emf;
  }
  return infinite;
}

template <class Driver>
void set_supply(Driver& driver, double voltage) {
  if constexpr (requires { driver.supply_voltage; }) driver.supply_voltage = voltage;
}

// Of a coil tank at a small signal: its own loss and its capacitor's.
double bandwidth_of(double frequency, double L, double R, double loss_tangent) {
  return frequency * (R / (2.0 * constant::pi * frequency * L) + loss_tangent);
}

}  // namespace

const maps::DrivenCoils& BenchModel::coils() {
  if (!coils_) coils_ = maps::drive_coils(scenario_);
  return *coils_;
}

const sheet::FieldView& BenchModel::field() {
  if (!field_) field_ = sheet::field_view(scenario_, coils());
  return *field_;
}

const maps::MeanAir& BenchModel::air() {
  if (!air_) air_ = maps::mean_air(scenario_);
  return *air_;
}

const flight::Plan& BenchModel::plan() {
  if (!plan_)
    plan_ = flight::make_plan(scenario_, maps::make_air(scenario_), maps::make_drive(scenario_, {}));
  return *plan_;
}

const flight::Electrical& BenchModel::electrical(std::size_t tag) {
  electrical_.resize(scenario_.tags.size());
  if (!electrical_[tag])
    electrical_[tag] = flight::electrical_of(scenario_, scenario_.tags[tag], frequency());
  return *electrical_[tag];
}

const flight::Electrical& BenchModel::lossless(std::size_t tag) {
  lossless_.resize(scenario_.tags.size());
  if (!lossless_[tag])
    lossless_[tag] =
        flight::electrical_of(scenario_, scenario_.tags[tag], frequency(), flight::WireLoss::left_out);
  return *lossless_[tag];
}

maps::CircuitView BenchModel::circuit(std::size_t number) {
  return maps::circuits_of(coils()).at(number);
}

double BenchModel::predict(const Subject& subject, const TagOffset& offset) {
  switch (subject.quantity) {
    case Quantity::resonance:
    case Quantity::bandwidth:
      return subject.tag ? tank_value(subject, offset) : drive_tank_value(subject);
    case Quantity::inductance:
    case Quantity::resistance:
      return meter_value(subject, offset);
    case Quantity::search_coil_voltage:
      return search_coil_voltage(subject);
    case Quantity::first_light_distance:
      return first_light_distance(subject, offset);
    case Quantity::first_light_supply:
      return first_light_supply(subject, offset);
    case Quantity::supply_current:
      return supply_current(subject);
    case Quantity::air_speed:
      return air_speed(subject);
    case Quantity::terminal_speed:
      return terminal_speed(subject);
    case Quantity::hover_height:
      return hover_height(subject);
    default:
      throw LogicError("a simulated quantity needs a flight");
  }
}

double BenchModel::scatter(const Subject& subject, int tags) {
  if (!subject.tag || subject.quantity == Quantity::terminal_speed ||
      subject.quantity == Quantity::hover_height)
    return 0.0;
  const auto* receiver = std::get_if<scenario::CircuitReceiver>(&scenario_.tags[*subject.tag].receiver);
  if (receiver == nullptr) return 0.0;
  const auto& width = receiver->tolerances;
  double variance = 0.0;
  const auto add = [&](double tolerance, const TagOffset& low, const TagOffset& high) {
    if (tolerance == 0.0) return;
    const double change = 0.5 * (predict(subject, high) - predict(subject, low));
    if (std::isfinite(change)) variance += change * change / 3.0;  // uniform
  };
  add(width.inductance, {1.0 - width.inductance, 1.0, 0.0}, {1.0 + width.inductance, 1.0, 0.0});
  add(width.capacitance, {1.0, 1.0 - width.capacitance, 0.0}, {1.0, 1.0 + width.capacitance, 0.0});
  add(width.led_voltage, {1.0, 1.0, -width.led_voltage}, {1.0, 1.0, width.led_voltage});
  return std::sqrt(variance / tags);
}

// The tank by itself on the bench: the winding's values at its own resonance.
double BenchModel::tank_value(const Subject& subject, const TagOffset& offset) {
  const auto& own = lossless(*subject.tag);
  auto tank = built(own, subject.fit, offset);
  const coil::SeriesCircuit winding({own.wound});
  const double temperature = scenario_.ambient.temperature;
  double frequency = receiver::resonance_frequency(tank);
  // L hardly depends on the frequency: two rounds settle it.
  for (int i = 0; i < 2; ++i) {
    tank.inductance = winding.inductance(frequency, temperature) * offset.inductance;
    frequency = receiver::resonance_frequency(tank);
  }
  if (subject.quantity == Quantity::resonance) return frequency;
  tank.resistance = winding.resistance(frequency, temperature).total;
  return frequency / receiver::quality_factor(tank, 2.0 * constant::pi * frequency);
}

double BenchModel::drive_tank_value(const Subject& subject) {
  const auto view = circuit(subject.circuit);
  const auto& given = std::get<scenario::CoilDrive>(scenario_.drive);
  const auto own = maps::driver_of(given, static_cast<int>(subject.circuit));
  double frequency = view.point.frequency, loss_tangent = 0.0;
  const std::vector<double> cold(static_cast<std::size_t>(view.load.coils()), scenario_.ambient.temperature);
  if (const auto* bridge = std::get_if<scenario::VoltageFedSeries>(&own)) {
    loss_tangent = bridge->capacitor_loss_tangent;
    if (bridge->frequency) {
      for (int i = 0; i < 2; ++i)
        frequency =
            1.0 / (2.0 * constant::pi * std::sqrt(view.load.at(frequency, cold).L * bridge->capacitance));
    }
  } else if (const auto* push_pull = std::get_if<scenario::CurrentFedPushPull>(&own)) {
    loss_tangent = push_pull->capacitor_loss_tangent;
  }
  if (subject.quantity == Quantity::resonance) return frequency;
  const auto state = view.load.at(frequency, cold);
  return bandwidth_of(frequency, state.L, state.resistance.total, loss_tangent);
}

// As sheet::bench_of, at one frequency.
double BenchModel::meter_value(const Subject& subject, const TagOffset& offset) {
  const double temperature = scenario_.ambient.temperature;
  const auto read = [&](const driver::CoilLoad& load, double inductance_factor) {
    if (subject.quantity == Quantity::inductance)
      return inductance_factor *
             (load.inductance(subject.at, temperature) + load.induced_inductance(subject.at, temperature));
    const std::vector<double> cold(static_cast<std::size_t>(load.coils()), temperature);
    return load.at(subject.at, cold).resistance.total;
  };
  if (subject.tag) {
    const coil::SeriesCircuit winding({lossless(*subject.tag).wound});
    return read(winding, offset.inductance);
  }
  if (subject.coil) {
    const auto& coil = std::get<scenario::CoilDrive>(scenario_.drive).coils[*subject.coil];
    const coil::SeriesCircuit alone({coil::wind(coil.winding, 0.0, coil::Sense::right_handed)});
    return read(alone, 1.0);
  }
  return read(circuit(subject.circuit).load, 1.0);
}

double BenchModel::search_coil_voltage(const Subject& subject) {
  const double radius = std::sqrt(subject.area / constant::pi);
  const double flux_density =
      sheet::mean_over_disc(field(), vector_of(subject.place), vector_of(subject.axis), radius);
  return 2.0 * constant::pi * frequency() * subject.turns * subject.area * flux_density / std::sqrt(2.0);
}

double BenchModel::on_flux_density(const Subject& subject, const TagOffset& offset) {
  const auto& receiver = scenario_.tags[*subject.tag].receiver;
  if (const auto* plain = std::get_if<scenario::ThresholdReceiver>(&receiver)) return plain->flux_density;
  const auto& own = electrical(*subject.tag);
  const double omega = 2.0 * constant::pi * frequency();
  return threshold_emf(built(own, subject.fit, offset), own.leds[subject.fit], omega) /
         (omega * own.moments.area_turns);
}

double BenchModel::receiver_radius(const Subject& subject) {
  const bool plain =
      std::holds_alternative<scenario::ThresholdReceiver>(scenario_.tags[*subject.tag].receiver);
  return plain ? 0.0 : lossless(*subject.tag).moments.disc_radius;
}

// The hand comes nearer from where no tag lights, a fiftieth of the distance at a time.
double BenchModel::first_light_distance(const Subject& subject, const TagOffset& offset) {
  Eigen::Vector3d from = vector_of(subject.place), direction = vector_of(subject.axis);
  if (subject.coil) {
    const auto& plane = field().sources->coils[*subject.coil];
    from = plane.centre;
    const Eigen::Vector3d away = from - Eigen::Vector3d(0.0, 0.0, 0.5 * scenario_.vessel.height);
    direction = away.dot(plane.axis) < 0.0 ? Eigen::Vector3d(-plane.axis) : plane.axis;
  }
  const double radius = receiver_radius(subject), wanted = on_flux_density(subject, offset);
  const auto lights = [&](double distance) {
    return sheet::mean_over_disc(field(), from + distance * direction, direction, radius) >= wanted;
  };
  constexpr double farthest = 5.0, nearest = 1e-3, step = 1.02;  // m, m, 1
  double dark = farthest, lit = farthest;
  while (lit > nearest && !lights(lit)) {
    dark = lit;
    lit /= step;
  }
  if (lit <= nearest) return infinite;
  for (int halving = 0; halving < 30; ++halving) {
    const double between = 0.5 * (dark + lit);
    (lights(between) ? lit : dark) = between;
  }
  return lit;
}

// The supply is turned up; what the warmer copper changes is followed, the frequency's change by it (below
// 1e-4) is not in the threshold.
double BenchModel::first_light_supply(const Subject& subject, const TagOffset& offset) {
  const double wanted = on_flux_density(subject, offset);
  const double radius = receiver_radius(subject);
  const auto& given = std::get<scenario::CoilDrive>(scenario_.drive);
  const auto flux_density = [&](double supply) {
    auto changed = scenario_;
    auto drive = given;
    std::visit([&](auto& own) { set_supply(own, supply); }, drive.driver);
    changed.drive = std::move(drive);
    const auto driven = maps::drive_coils(changed);
    return sheet::mean_over_disc(sheet::field_view(changed, driven), vector_of(subject.place),
                                 vector_of(subject.axis), radius);
  };
  double drop = 0.0;
  if (const auto* push_pull = std::get_if<scenario::CurrentFedPushPull>(&given.driver))
    drop = push_pull->voltage_drop;
  // The field is nearly proportional to supply - drop, so the secant settles in a few steps.
  double supply = drop + 10.0, field = flux_density(supply);
  constexpr double most = 4000.0;  // V
  for (int i = 0; i < 20; ++i) {
    if (!(field > 0.0)) return infinite;
    const double next = drop + (supply - drop) * wanted / field;
    if (!(next < most)) return infinite;
    const bool settled = std::fabs(next - supply) < 1e-9 * next;
    supply = next;
    if (settled) break;
    field = flux_density(supply);
  }
  return supply;
}

double BenchModel::supply_current(const Subject& subject) {
  if (subject.tags_inside == TagsInside::none) return circuit(subject.circuit).point.tank->supply_current;
  const auto lighting =
      subject.tags_inside == TagsInside::lit ? flight::Lighting::lit : flight::Lighting::unlit;
  const auto groups =
      flight::tag_groups(plan(), maps::tag_reach(scenario_), static_cast<int>(subject.circuit), lighting);
  const auto view = circuit(subject.circuit);
  driver::Setting setting;
  if (!groups.empty()) setting.reflected = driver::reflected_by(groups);
  const auto own =
      maps::driver_of(std::get<scenario::CoilDrive>(scenario_.drive), static_cast<int>(subject.circuit));
  return std::visit(
      [&](const auto& driver) {
        return driver::operating_point(driver, view.load, surroundings_of(scenario_), setting)
            .tank->supply_current;
      },
      own);
}

double BenchModel::air_speed(const Subject& subject) {
  const auto& p = subject.place;
  const double r = std::hypot(p[0], p[1]);
  const auto u = air()(r, p[2]);
  if (subject.sees == Subject::Sees::all) return std::hypot(u.u_r, u.u_theta, u.u_z);
  const Eigen::Vector3d radial =
      r > 0.0 ? Eigen::Vector3d(p[0] / r, p[1] / r, 0.0) : Eigen::Vector3d::UnitX();
  const Eigen::Vector3d around(-radial.y(), radial.x(), 0.0);
  const Eigen::Vector3d wind = u.u_r * radial + u.u_theta * around + u.u_z * Eigen::Vector3d::UnitZ();
  return wind.dot(vector_of(subject.axis));
}

double BenchModel::terminal_speed(const Subject& subject) {
  const auto& ambient = scenario_.ambient;
  const auto body = flight::body_of(scenario_.tags[*subject.tag].body);
  const auto lift =
      sheet::lift_of(body, motion::BodyTerms(body, {air::density(ambient.temperature, ambient.pressure),
                                                    air::dynamic_viscosity(ambient.temperature)}));
  switch (subject.falls) {
    case Falls::along:
      return lift.terminal_speed_along;
    case Falls::across:
      return lift.terminal_speed_across;
    default:
      return sheet::mean_terminal_speed(lift);
  }
}

// Where the mean up-flow, seen from the floor, first falls to the terminal speed: there a tag that sinks is
// lifted again. Where it is too weak at the floor the tag lies there, where it never falls so far it hangs
// under the lid.
double BenchModel::hover_height(const Subject& subject) {
  const double falling = terminal_speed(subject);
  const double radius = scenario_.tags[*subject.tag].body.radius;
  const double r = std::hypot(subject.place[0], subject.place[1]);
  const double low = radius, high = scenario_.vessel.height - radius;
  const auto lifts = [&](double z) { return air()(r, z).u_z > falling; };
  constexpr int steps = 200;
  double below = low;
  if (!lifts(low)) return low;
  for (int i = 1; i <= steps; ++i) {
    double above = low + (high - low) * i / steps;
    if (lifts(above)) {
      below = above;
      continue;
    }
    for (int halving = 0; halving < 40; ++halving) {
      const double between = 0.5 * (below + above);
      (lifts(between) ? below : above) = between;
    }
    return below;
  }
  return high;
}

}  // namespace driftglow::tune
