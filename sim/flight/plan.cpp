#include "sim/flight/plan.hpp"

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/light/visibility.hpp"
#include "models/receiver/led_fit.hpp"

namespace driftglow::flight {
namespace {

constexpr std::uint64_t flux_rule_seed = 1;
// Linkage tables reach this far beyond the largest |B| N A of the map: close to the wires a disc's mean
// exceeds its centre's value (by some 10 % for coils on the wall).
constexpr double linkage_margin = 1.3;

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

LedPlan led_of(const scenario::Scenario& scenario, const scenario::CircuitReceiver& receiver,
               const std::string& fit) {
  const auto found = std::find_if(scenario.emitters.begin(), scenario.emitters.end(),
                                  [&](const auto& emitter) { return emitter.name == fit; });
  if (found == scenario.emitters.end()) throw LogicError("fit without emitter: " + fit);
  const auto fitted = receiver::fit_led(found->points, {found->reverse_breakdown, found->reverse_leakage},
                                        scenario.ambient.temperature);
  const double visible =
      light::threshold_intensity(scenario.ambient.threshold_illuminance, scenario.ambient.viewing_distance);
  const double on_current = receiver.threshold_current.value_or(
      light::current_for_intensity(visible, found->intensity, found->intensity_current));
  return {found->name,
          found->colour,
          fitted.law,
          fitted.worst_residual,
          found->junction_capacitance,
          on_current,
          found->intensity / found->intensity_current,
          found->mean_current_rating,
          found->peak_current_rating,
          found->reverse_voltage_rating};
}

double largest_flux_density(const Plan& plan, const coil::Reach& reach) {
  const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field);
  if (coils == nullptr) return plan.flux_density_peak(0.0, 0.0);
  double largest = 0.0;
  const auto& map = coils->map;
  for (int i = 0; i < map.r().nodes; ++i) {
    // The first node beyond the reach counts too, so that no place between nodes is missed.
    if (map.r().at(i) > reach.radius + map.r().step) break;
    for (int j = 0; j < map.z().nodes; ++j) {
      const double z = map.z().at(j);
      if (z < reach.low - map.z().step || z > reach.high + map.z().step) continue;
      largest = std::max(largest, plan.flux_density_peak(map.r().at(i), z));
    }
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
          .carried = {}};
}

void add_circuit(const scenario::Scenario& scenario, const scenario::CircuitReceiver& receiver,
                 const coil::Reach& reach, const Plan& plan, DesignPlan& design) {
  const auto wound = maps::wound_receiver(receiver.winding);
  design.moments = coil::flux_moments(wound.turns);
  if (const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field)) {
    design.flux_rule = coil::choose_flux_rule(coils->map, wound.turns, reach, flux_rule_seed);
  }
  const coil::SeriesCircuit winding({wound});
  const double temperature = scenario.ambient.temperature, frequency = plan.drive.frequency;
  design.tank =
      TankPlan{winding.inductance(frequency, temperature), winding.resistance(frequency, temperature).total,
               receiver.capacitance, receiver.loss_tangent, receiver.tolerances};
  for (const auto& fit : design.fits) design.leds.push_back(led_of(scenario, receiver, fit));
}

}  // namespace

double Plan::flux_density_peak(double r, double z) const {
  if (const auto* uniform = std::get_if<scenario::UniformField>(&drive.field)) {
    if (!uniform->quadrature_axis) return uniform->flux_density_peak;
    // Larger semi-axis of the ellipse of two equal fields in quadrature that need not be perpendicular.
    const auto &a = uniform->axis, &b = *uniform->quadrature_axis;
    return uniform->flux_density_peak * std::sqrt(1.0 + std::fabs(a[0] * b[0] + a[1] * b[1] + a[2] * b[2]));
  }
  const auto& coils = std::get<maps::CoilState>(drive.field);
  const auto field = coils.map.field(r, z);
  return coils.point.current_peak * std::hypot(r * field.radial_over_r, field.axial);
}

Plan make_plan(const scenario::Scenario& scenario, maps::AirState air, maps::DriveState drive) {
  const auto& f = scenario.flight;
  const auto steps = [&](double time) { return std::max<std::int64_t>(1, std::llround(time / f.step)); };
  Plan plan{.seed = f.seed,
            .vessel = {0.5 * scenario.vessel.inner_diameter, scenario.vessel.height},
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
  for (const auto& tag : scenario.tags) {
    DesignPlan design = design_of(tag, plan);
    if (const auto* circuit = std::get_if<scenario::CircuitReceiver>(&tag.receiver)) {
      add_circuit(scenario, *circuit, reach, plan, design);
    } else {
      design.threshold = std::get<scenario::ThresholdReceiver>(tag.receiver).flux_density;
    }
    design.linkage_max = linkage_margin * largest * design.moments.area_turns;
    if (design.tank) {
      design.family = plan.families.size();
      plan.families.emplace_back(*design.tank, design.leds, plan.omega, design.linkage_max);
    }
    for (const auto& [fit, count] : tag.mix) {
      const auto index = std::find(design.fits.begin(), design.fits.end(), fit) - design.fits.begin();
      design.carried.insert(design.carried.end(), count, static_cast<int>(index));
      if (design.leds.empty()) continue;
      const std::string& colour = design.leds[index].colour;
      if (std::find(plan.colours.begin(), plan.colours.end(), colour) == plan.colours.end())
        plan.colours.push_back(colour);
    }
    design.carried.resize(tag.count, 0);
    plan.tags += tag.count;
    plan.designs.push_back(std::move(design));
  }
  return plan;
}

}  // namespace driftglow::flight
