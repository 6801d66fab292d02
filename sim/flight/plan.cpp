#include "sim/flight/plan.hpp"

#include <algorithm>
#include <cmath>

#include "models/air/gusts.hpp"
#include "models/coil/volume_linkage.hpp"
#include "models/constants.hpp"
#include "models/driver/tag_load.hpp"
#include "models/error.hpp"
#include "models/light/visibility.hpp"
#include "models/receiver/capacitor_class.hpp"
#include "models/receiver/led_fit.hpp"
#include "sim/flight/coupled_vessel.hpp"
#include "sim/flight/draws.hpp"
#include "sim/flight/random.hpp"
#include "sim/flight/tag_draw.hpp"

namespace driftglow::flight {
using numeric::Vec3;

namespace {

constexpr std::uint64_t flux_rule_seed = 1;
// Linkage tables reach this far beyond the largest |B| N A of the map: close to the wires a disc's mean
// exceeds its centre's value (by some 10 % for coils on the wall).
constexpr double linkage_margin = 1.3;

receiver::LedFit fitted(const scenario::Emitter& emitter, double temperature) {
  return receiver::fit_led(emitter.points, {emitter.reverse_breakdown, emitter.reverse_leakage}, temperature);
}

LedPlan led_of(const scenario::Scenario& scenario, const scenario::CircuitReceiver& receiver,
               const std::string& fit) {
  const auto emitters = scenario.emitters_of(fit);
  const scenario::Emitter& first = *emitters.front();
  const auto law = fitted(first, scenario.ambient.temperature);
  const double visible =
      light::threshold_intensity(scenario.ambient.threshold_illuminance, scenario.ambient.viewing_distance);
  const double on_current = receiver.threshold_current.value_or(
      light::current_for_intensity(visible, first.intensity, first.intensity_current));
  LedPlan led{first.name,
              first.colour,
              law.law,
              law.worst_residual,
              first.junction_capacitance,
              on_current,
              first.intensity / first.intensity_current,
              first.mean_current_rating,
              first.peak_current_rating,
              first.reverse_voltage_rating};
  if (emitters.size() == 1) return led;
  const scenario::Emitter& second = *emitters.back();
  const auto other = fitted(second, scenario.ambient.temperature);
  const double per_current = second.intensity / second.intensity_current;
  led.junction_capacitance += second.junction_capacitance;
  led.antiparallel =
      AntiparallelLed{second.name,
                      second.colour,
                      other.law,
                      other.worst_residual,
                      per_current,
                      second.mean_current_rating,
                      second.peak_current_rating,
                      second.reverse_voltage_rating,
                      receiver.threshold_current ? 1.0 : per_current / led.intensity_per_current};
  return led;
}

// On the nodes of an axis within the reach; the first node beyond it counts too, so that no place between
// nodes is missed.
std::vector<double> nodes_within(const numeric::UniformAxis& axis, double low, double high) {
  std::vector<double> nodes;
  for (int i = 0; i < axis.nodes; ++i)
    if (axis.at(i) >= low - axis.step && axis.at(i) <= high + axis.step) nodes.push_back(axis.at(i));
  return nodes;
}

double largest_flux_density(const Plan& plan, const coil::Reach& reach) {
  double largest = 0.0;
  const auto look = [&](const Vec3<double>& p) { largest = std::max(largest, plan.flux_density_peak(p)); };
  if (const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field)) {
    for (const double r : nodes_within(coils->map.r(), 0.0, reach.radius)) {
      for (const double z : nodes_within(coils->map.z(), reach.low, reach.high)) look({r, 0.0, z});
    }
  } else if (const auto* map = plan.drive.volume()) {
    const auto& [x_axis, y_axis, z_axis] = map->axes();
    for (const double x : nodes_within(x_axis, -reach.radius, reach.radius)) {
      for (const double y : nodes_within(y_axis, -reach.radius, reach.radius)) {
        if (std::hypot(x, y) > reach.radius + x_axis.step) continue;
        for (const double z : nodes_within(z_axis, reach.low, reach.high)) look({x, y, z});
      }
    }
  } else {
    look({0.0, 0.0, 0.0});
  }
  return largest;
}

// Drag, buoyancy and the like do not matter for a held tag; its body is only there to be complete.
DesignPlan design_of(const scenario::TagDesign& tag, const Plan& plan) {
  const motion::Body body = body_of(tag.body);
  return {.name = tag.name,
          .count = tag.count,
          .first_tag = plan.tags,
          .kind = tag.body.kind,
          .body = body,
          .terms = motion::BodyTerms(body, {plan.air.density, plan.air.dynamic_viscosity}),
          .hold = tag.hold,
          .moments = {1.0, 0.0, 0.0, 0.0, 0.0},
          .flux_rule = {coil::FluxRule::curvature, 0.0, 0.0},
          .linkage_max = 0.0,
          .threshold = std::nullopt,
          .tank = std::nullopt,
          .leds = {},
          .family = std::nullopt,
          .fits = tag.fits,
          .pairs = {},
          .carried = {}};
}

driver::ReflectedImpedance loading(const Plan& plan, const coil::Reach& reach) {
  auto groups = tag_groups(plan, reach, 0, Lighting::lit);
  return groups.empty() ? driver::ReflectedImpedance{} : driver::reflected_by(std::move(groups));
}

// What the draws of the drive lie within.
DriveSpan add_built_drive(const scenario::Scenario& scenario, const coil::Reach& reach, Plan& plan) {
  const auto* coils = std::get_if<scenario::CoilDrive>(&scenario.drive);
  if (!coils) return {};
  BuiltDrive built{maps::driver_of(*coils, 0),
                   {scenario.ambient.temperature, scenario.ambient.pressure},
                   coils->tolerances,
                   {}};
  if (std::holds_alternative<scenario::VoltageFedSeries>(built.driver) && coils->circuits.size() == 1)
    built.tags = loading(plan, reach);
  if (coils->tolerances.inductance == 0.0 && coils->tolerances.capacitance == 0.0 && !built.tags) return {};
  const auto circuit = maps::circuits_of(plan.drive).front();
  const auto spread = std::visit(
      [&](const auto& own) {
        return driver::tank_spread(own, circuit.load, built.surroundings, built.tolerance, {built.tags});
      },
      built.driver);
  plan.built_drive = std::move(built);
  // A hair wider than the draws, which are solved to the fixed point's tolerance.
  constexpr double margin = 1e-6;
  const auto& point = circuit.point;
  const double low = spread.frequency_low / point.frequency, high = spread.frequency_high / point.frequency;
  return {std::min(low == 1.0 ? low : low - margin, 1.0), std::max(high == 1.0 ? high : high + margin, 1.0),
          std::max(high * spread.current_high / point.current_peak, 1.0)};
}

// The capacitor as its class leaves it at the room's temperature and, fit by fit, at the voltage that lights
// the LED; of a pair the lower of the two voltages, which holds the tank down.
void apply_class(const scenario::CapacitorClass& given, double temperature, double frequency, TankPlan& tank,
                 std::vector<LedPlan>& leds) {
  const bool film = given.dielectric == receiver::Dielectric::polypropylene ||
                    given.dielectric == receiver::Dielectric::polyester;
  const auto characteristic = film ? receiver::film_characteristic(given.dielectric)
                                   : receiver::temperature_characteristic(given.code);
  const auto change = receiver::temperature_change(characteristic, temperature);
  // From the smallest part at its lowest to the largest at its highest.
  const double low = (1.0 - tank.tolerances.capacitance) * (1.0 + change.low);
  const double high = (1.0 + tank.tolerances.capacitance) * (1.0 + change.high);
  tank.capacitance *= 0.5 * (low + high);
  tank.tolerances.capacitance = (high - low) / (high + low);
  if (given.dielectric == receiver::Dielectric::class_2_ceramic) {
    const receiver::BiasLoss loss{given.bias_rated_voltage,
                                  receiver::common_remaining_at_rated(characteristic)};
    for (LedPlan& led : leds) {
      double voltage = led.law.forward_voltage(led.on_mean_current);
      if (led.antiparallel)
        voltage = std::min(voltage, led.antiparallel->law.forward_voltage(led.on_mean_current));
      led.remaining_capacitance = receiver::biased_capacitance(loss, 0.0, voltage);
    }
  }
  if (!given.own_loss_tangent)
    tank.loss_tangent = receiver::loss_tangent(given.dielectric, frequency).typical;
}

void add_circuit(const scenario::Scenario& scenario, const scenario::TagDesign& tag, const coil::Reach& reach,
                 const Plan& plan, DesignPlan& design) {
  auto own = electrical_of(scenario, tag, plan.drive.frequency);
  design.moments = own.moments;
  if (const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field)) {
    design.flux_rule = coil::choose_flux_rule(coils->map, own.wound.turns, reach, flux_rule_seed);
  } else if (const auto* map = plan.drive.volume()) {
    design.flux_rule = coil::choose_flux_rule(*map, own.wound.turns, reach, flux_rule_seed);
  }
  design.tank = own.tank;
  design.leds = std::move(own.leds);
  for (std::size_t i = 0; i < design.leds.size(); ++i)
    if (design.leds[i].antiparallel) design.pairs.push_back(static_cast<int>(i));
}

// None where neither coils nor a tag's circuit are there.
std::optional<DrivePower> power_of(const scenario::Scenario& scenario, const Plan& plan) {
  std::optional<DrivePower> power;
  if (std::any_of(plan.designs.begin(), plan.designs.end(), [](const auto& d) { return d.tank.has_value(); }))
    power = DrivePower{};
  for (const auto& circuit : maps::circuits_of(plan.drive)) {
    if (!power) power = DrivePower{};
    *power += drive_power(maps::driver_of(std::get<scenario::CoilDrive>(scenario.drive), circuit.number),
                          circuit.load, circuit.point);
  }
  return power;
}

void add_colour(const std::string& colour, std::vector<std::string>& colours) {
  if (std::find(colours.begin(), colours.end(), colour) == colours.end()) colours.push_back(colour);
}

}  // namespace

motion::Body body_of(const scenario::Body& given) {
  motion::Body body{};
  body.radius = given.radius;
  body.mass = given.mass;
  body.inertia = given.inertia;
  body.centre_offset = given.centre_offset;
  body.displaced_volume = given.displaced_volume;
  body.restitution = given.restitution;
  body.friction = given.friction;
  body.rolling_resistance = given.rolling_resistance;
  body.wall_lift = given.wall_lift == scenario::WallLift::on ? motion::WallLift::on : motion::WallLift::off;
  body.drag_law = motion::DragLaw::fixed;
  if (std::holds_alternative<scenario::SphereDrag>(given.drag)) {
    body.drag_law = motion::DragLaw::sphere;
  } else if (const auto* cage = std::get_if<scenario::CageDrag>(&given.drag)) {
    body.area_along = cage->coefficient_along * cage->frontal_area;
    body.area_across = cage->coefficient_across * cage->frontal_area;
  } else {
    const auto area =
        motion::disc_drag_area(given.radius, std::get<scenario::DiscDrag>(given.drag).thickness);
    body.area_along = area.along;
    body.area_across = area.across;
  }
  // A tracer has neither mass nor, as a rule, size.
  return given.kind == scenario::BodyKind::tracer ? body : motion::checked(body);
}

Electrical electrical_of(const scenario::Scenario& scenario, const scenario::TagDesign& tag, double frequency,
                         WireLoss loss) {
  const auto& receiver = std::get<scenario::CircuitReceiver>(tag.receiver);
  const double temperature = scenario.ambient.temperature;
  auto wound = maps::wound_receiver(receiver.winding);
  const coil::SeriesCircuit winding({wound});
  Electrical own{std::move(wound),
                 {},
                 {winding.inductance(frequency, temperature),
                  loss == WireLoss::computed ? winding.resistance(frequency, temperature).total : 0.0,
                  receiver.capacitance, receiver.loss_tangent, receiver.tolerances},
                 {}};
  own.moments = coil::flux_moments(own.wound.turns);
  for (const auto& fit : tag.fits) own.leds.push_back(led_of(scenario, receiver, fit));
  if (receiver.capacitor_class)
    apply_class(*receiver.capacitor_class, temperature, frequency, own.tank, own.leds);
  return own;
}

std::optional<int> DesignPlan::second_slot(int fit) const {
  const auto pair = std::find(pairs.begin(), pairs.end(), fit);
  if (pair == pairs.end()) return std::nullopt;
  return fit_count() + static_cast<int>(pair - pairs.begin());
}

Plan make_plan(const scenario::Scenario& scenario, maps::AirState air, maps::DriveState drive) {
  const auto& f = scenario.flight;
  const auto steps = [&](double time) { return std::max<std::int64_t>(1, std::llround(time / f.step)); };
  Plan plan{.seed = f.seed,
            .vessel = {0.5 * scenario.vessel.inner_diameter, scenario.vessel.height, scenario.vessel.slope},
            .clock = {f.step, std::llround(f.warmup / f.step), steps(f.duration), steps(place_interval),
                      steps(pinned_interval), steps(f.trace.interval)},
            .omega = 2.0 * constant::pi * drive.frequency,
            .designs = {},
            .families = {},
            .tags = 0,
            .traced_replicates = f.trace.replicates,
            .colours = {},
            .air = std::move(air),
            .drive = std::move(drive)};
  const auto reach = maps::tag_reach(scenario);
  const double largest = largest_flux_density(plan, reach);
  const double gust_length = plan.air.gust_length();
  for (const auto& tag : scenario.tags) {
    DesignPlan design = design_of(tag, plan);
    if (std::holds_alternative<scenario::CircuitReceiver>(tag.receiver)) {
      add_circuit(scenario, tag, reach, plan, design);
    } else {
      design.threshold = std::get<scenario::ThresholdReceiver>(tag.receiver).flux_density;
    }
    design.linkage_max = linkage_margin * largest * design.moments.area_turns;
    // Twice the largest EMF, so that a tag that stays dark still tells how much it lacks.
    for (const auto& led : design.leds)
      design.curves.push_back(receiver::solve_glow_curve(nominal_tank(*design.tank, led), plan.omega,
                                                         2.0 * plan.omega * design.linkage_max));
    for (const auto& curve : design.curves) design.power.emplace_back(curve, curve.emf_max());
    for (const auto& [fit, count] : tag.mix) {
      const auto index = std::find(design.fits.begin(), design.fits.end(), fit) - design.fits.begin();
      design.carried.insert(design.carried.end(), count, static_cast<int>(index));
      if (design.leds.empty()) continue;
      const LedPlan& led = design.leds[index];
      add_colour(led.colour, plan.colours);
      if (led.antiparallel) add_colour(led.antiparallel->colour, plan.colours);
    }
    design.carried.resize(tag.count, 0);
    if (scenario.air.gust_averaging == scenario::GustAveraging::on && design.solid() && gust_length > 0.0)
      design.terms.gust_share =
          air::gust_share(std::holds_alternative<scenario::DiscDrag>(tag.body.drag) ? air::TagShape::disc
                                                                                    : air::TagShape::ball,
                          tag.body.radius, gust_length);
    plan.tags += tag.count;
    plan.designs.push_back(std::move(design));
  }
  plan.power = power_of(scenario, plan);
  const DriveSpan span = add_built_drive(scenario, reach, plan);
  for (DesignPlan& design : plan.designs) {
    if (!design.tank) continue;
    design.family = plan.families.size();
    plan.families.emplace_back(*design.tank, design.leds, plan.omega, design.linkage_max, span);
  }
  if (f.coupling == scenario::Coupling::on && std::any_of(plan.designs.begin(), plan.designs.end(), couples))
    plan.coupling = coupling_plan(plan);
  return plan;
}

ReplicateDrive built_drive(const Plan& plan, int replicate) {
  if (!plan.built_drive) return {{}, plan.power};
  pcg32 stream = random_stream(plan.seed, replicate, 0, Purpose::drive);
  const double first = uniform(stream);
  const auto tank = driver::draw_tank(plan.built_drive->tolerance, first, uniform(stream));
  const auto circuits = maps::circuits_of(plan.drive);
  const auto& circuit = circuits.front();
  const auto point = std::visit(
      [&](const auto& own) {
        return driver::built_point(own, circuit.load, plan.built_drive->surroundings, tank,
                                   {plan.built_drive->tags});
      },
      plan.built_drive->driver);
  const DriveDraw draw{point.frequency / circuit.point.frequency,
                       point.current_peak / circuit.point.current_peak};
  if (circuits.size() > 1) return {draw, plan.power.value().at_current(draw.current)};
  return {draw, drive_power(plan.built_drive->driver, circuit.load, point)};
}

}  // namespace driftglow::flight
