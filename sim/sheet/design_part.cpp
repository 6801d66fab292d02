#include <algorithm>
#include <cmath>
#include <limits>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/receiver/led_fit.hpp"
#include "sim/flight/tag_draw.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

constexpr int samples = 16384;

// Speed [m/s] at which drag = 1/2 rho v^2 (coefficient x area) equals the weight less buoyancy.
double terminal_speed(const motion::Body& body, const motion::BodyTerms& terms, double drag_area) {
  if (terms.weight <= 0.0) return 0.0;
  if (body.drag_law == motion::DragLaw::fixed)
    return std::sqrt(terms.weight / (terms.half_density * drag_area));
  // A sphere's drag rises with the speed, so halving an interval finds the balance.
  double low = 0.0, high = 1.0;
  const auto drag = [&](double speed) {
    return terms.half_density * terms.area * speed * speed *
           motion::sphere_drag_coefficient(speed * terms.reynolds_per_speed);
  };
  while (drag(high) < terms.weight) high *= 2.0;
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (drag(middle) < terms.weight ? low : high) = middle;
  }
  return high;
}

std::optional<CapacitorAid> tuning_aid(const receiver::TankDesign& nominal, double omega, double present) {
  const double wanted = 1.0 / (omega * omega * nominal.inductance) - present;
  if (wanted <= 0.0) return std::nullopt;
  return capacitor_aid(wanted, present);
}

// Into the sphere of the body's radius; empty where the winding is wider.
std::optional<int> turns_in_sphere(const coil::Winding& winding, double outer_radius, double body_radius) {
  if (!(outer_radius < body_radius)) return std::nullopt;
  return receiver::turns_that_fit(2.0 * std::sqrt(body_radius * body_radius - outer_radius * outer_radius),
                                  winding.layers, winding.wire, winding.pitch);
}

bool inside_sphere(const coil::WoundCoil& wound, double radius) {
  return std::all_of(wound.turns.begin(), wound.turns.end(),
                     [&](const coil::Turn& turn) { return std::hypot(turn.radius, turn.height) < radius; });
}

std::optional<coupling::NeighbourCoupling> neighbours_of(const coil::WoundCoil& wound,
                                                         const flight::Plan& plan,
                                                         const flight::DesignPlan& design, double Q) {
  if (plan.tags < 2 || !design.solid()) return std::nullopt;
  if (!inside_sphere(wound, design.body.radius)) return std::nullopt;
  const double volume = plan.vessel.volume();
  return coupling::neighbour_coupling(wound.turns, design.tank->inductance, Q, design.body.radius, plan.tags,
                                      volume);
}

// How far the drive's frequency may be off [1]; half of what L and C may, unless it is given.
double frequency_tolerance(const scenario::Drive& drive) {
  const auto* coils = std::get_if<scenario::CoilDrive>(&drive);
  if (coils == nullptr || std::holds_alternative<scenario::GivenCurrent>(coils->driver)) return 0.0;
  const auto* bridge = std::get_if<scenario::VoltageFedSeries>(&coils->driver);
  if (bridge != nullptr && bridge->frequency) return 0.0;
  return 0.5 * (coils->tolerances.inductance + coils->tolerances.capacitance);
}

Tank tank_of(const scenario::CircuitReceiver& receiver, const scenario::Scenario& scenario,
             const flight::Plan& plan, const flight::DesignPlan& design) {
  const auto wound = maps::wound_receiver(receiver.winding);
  const coil::SeriesCircuit winding({wound});
  const auto nominal = flight::nominal_tank(*design.tank, design.leds.front());
  const auto& tolerances = design.tank->tolerances;
  const auto sharpness = receiver::sharpness(nominal, plan.omega, tolerances.inductance,
                                             tolerances.capacitance, frequency_tolerance(scenario.drive));
  const double resonance = receiver::resonance_frequency(nominal);
  const double self_capacitance =
      coil::self_capacitance(receiver.winding, coil::LayerOrder::to_and_fro).value;
  const double temperature = scenario.ambient.temperature;
  return {receiver.winding,
          wound.wire_length,
          wound.copper_mass,
          nominal.inductance,
          nominal.resistance,
          winding.resistance_trust(plan.drive.frequency, temperature),
          nominal.capacitance,
          receiver.capacitor_rated_voltage,
          resonance,
          resonance / plan.drive.frequency - 1.0,
          sharpness,
          resonance / sharpness.Q,
          design.moments.area_turns,
          self_capacitance,
          coil::self_resonance(nominal.inductance, self_capacitance, plan.drive.frequency,
                               nominal.total_capacitance(),
                               0.5 * (tolerances.inductance + tolerances.capacitance)),
          tuning_aid(nominal, plan.omega, nominal.junction_capacitance + self_capacitance),
          turns_in_sphere(receiver.winding, wound.outer_radius, design.body.radius),
          neighbours_of(wound, plan, design, sharpness.Q),
          plan.coupling ? Tank::Neighbours::coupled : Tank::Neighbours::neglected,
          design.flux_rule,
          bench_of(winding, temperature)};
}

std::optional<receiver::ThresholdSpread> spread_of(const flight::TankPlan& tank, const flight::LedPlan& led,
                                                   double omega, double threshold) {
  const auto& tolerances = tank.tolerances;
  if (!std::isfinite(threshold)) return std::nullopt;
  if (tolerances.inductance == 0.0 && tolerances.capacitance == 0.0 && tolerances.led_voltage == 0.0)
    return std::nullopt;
  return receiver::threshold_spread(flight::nominal_tank(tank, led), omega, led.on_mean_current,
                                    {tolerances.inductance, tolerances.capacitance, tolerances.led_voltage},
                                    (1.0 - yield_band) * threshold, (1.0 + yield_band) * threshold,
                                    led.on_weights());
}

std::optional<Fit::Led::Antiparallel> antiparallel_of(const std::vector<const scenario::Emitter*>& emitters,
                                                      const flight::LedPlan& led) {
  if (!led.antiparallel) return std::nullopt;
  const auto& second = *led.antiparallel;
  return Fit::Led::Antiparallel{
      second.emitter,
      second.colour,
      second.law.parameters(),
      second.worst_residual,
      receiver::has_point_within_factor_ten(emitters.back()->points, led.on_mean_current),
      second.on_weight,
      second.mean_current_rating,
      second.peak_current_rating,
      second.reverse_voltage_rating};
}

Fit::Led led_of(const std::vector<const scenario::Emitter*>& emitters, const flight::DesignPlan& design,
                const flight::LedPlan& led, double omega, double emf_largest,
                const receiver::GlowCurve& curve, Spreads spreads) {
  const double threshold = curve.threshold_emf(led.on_mean_current, led.on_weights());
  Fit::Led result{led.colour,
                  led.law.parameters(),
                  led.worst_residual,
                  receiver::has_point_within_factor_ten(emitters.front()->points, led.on_mean_current),
                  led.on_mean_current,
                  threshold,
                  flight::over_rating_emf(curve, led),
                  emf_largest,
                  led.mean_current_rating,
                  led.peak_current_rating,
                  led.reverse_voltage_rating,
                  curve.at(emf_largest),
                  {},
                  {},
                  antiparallel_of(emitters, led)};
  if (spreads == Spreads::made) result.built = spread_of(*design.tank, led, omega, threshold);
  for (const auto& point : curve.points()) result.curve.push_back(point.value);
  return result;
}

double map_error(const maps::DriveState& drive) {
  if (const auto* coils = std::get_if<maps::CoilState>(&drive.field)) return coils->map.error();
  if (const auto* map = drive.volume()) return map->error();
  return 0.0;
}

std::optional<Field::Measured> measured_of(const maps::DriveState& drive) {
  const auto* state = std::get_if<maps::MeasuredState>(&drive.field);
  if (!state) return std::nullopt;
  const auto& fit = state->fit;
  return Field::Measured{fit.readings,          fit.misfit,
                         fit.largest_misfit,    {fit.worst.x(), fit.worst.y(), fit.worst.z()},
                         fit.divergence_before, fit.remedy};
}

}  // namespace

Lift lift_of(const motion::Body& body, const motion::BodyTerms& terms) {
  return {terminal_speed(body, terms, body.area_along), terminal_speed(body, terms, body.area_across)};
}

double mean_terminal_speed(const Lift& lift) {
  const double along = lift.terminal_speed_along, across = lift.terminal_speed_across;
  if (along == 0.0 || across == 0.0) return 0.0;
  return 1.0 / std::sqrt((1.0 / (along * along) + 2.0 / (across * across)) / 3.0);
}

std::vector<double> linkages(const flight::Plan& plan, const flight::DesignPlan& design,
                             const coil::Reach& reach) {
  std::vector<double> values;
  for (int i = 1; i <= samples; ++i)
    values.push_back(flight::linkage(plan, design, flight::sample(reach, i)));
  return values;
}

Field field_of(const scenario::Scenario& scenario, const flight::Plan& plan, const coil::Reach& reach) {
  std::vector<double> values;
  for (int i = 1; i <= samples; ++i) {
    values.push_back(plan.drive.flux_density_peak(flight::sample(reach, i).place));
  }
  std::sort(values.begin(), values.end());
  return {plan.drive.frequency,
          plan.drive.flux_density_peak({0.0, 0.0, 0.5 * scenario.vessel.height}),
          {values[samples / 20], values[samples / 2], values[samples - samples / 20]},
          values.back(),
          map_error(plan.drive),
          measured_of(plan.drive)};
}

Design design_of(const scenario::TagDesign& tag, const flight::DesignPlan& design,
                 const scenario::Scenario& scenario, const flight::Plan& plan,
                 const std::vector<double>& linkages, Spreads spreads) {
  Design part{tag.name, tag.count, tag.body.mass, tag.body.parts, {}, {}, {}};
  if (const auto* receiver = std::get_if<scenario::CircuitReceiver>(&tag.receiver))
    part.tank = tank_of(*receiver, scenario, plan, design);
  if (!tag.hold && tag.body.kind == scenario::BodyKind::solid) {
    part.lift = lift_of(design.body, design.terms);
  }
  auto rising = linkages;
  std::sort(rising.begin(), rising.end());
  const auto share_from = [&](double from) {
    return static_cast<double>(rising.end() - std::lower_bound(rising.begin(), rising.end(), from)) / samples;
  };
  for (std::size_t i = 0; i < design.fits.size(); ++i) {
    Fit fit{design.fits[i], {}, 0.0, 0.0, 0.0};
    double on_linkage, over_linkage = std::numeric_limits<double>::infinity();
    if (design.threshold) {
      on_linkage = *design.threshold;
    } else {
      const auto& led = design.leds[i];
      fit.led = led_of(scenario.emitters_of(fit.name), design, led, plan.omega, plan.omega * rising.back(),
                       design.curves[i], spreads);
      on_linkage = fit.led->threshold_emf / plan.omega;
      over_linkage = fit.led->over_rating_emf / plan.omega;
    }
    fit.on_flux_density = on_linkage / design.moments.area_turns;
    fit.share_on = share_from(on_linkage);
    fit.share_over_rating = share_from(over_linkage);
    part.fits.push_back(std::move(fit));
  }
  return part;
}

}  // namespace driftglow::sheet
