#include "sim/sheet/design_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/coil/inductance.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/receiver/led_fit.hpp"
#include "sim/flight/linkage.hpp"
#include "sim/sheet/quantity_text.hpp"

namespace driftglow::sheet {
namespace {

constexpr int samples = 4096;

// Halton 1960: van der Corput's radical inverse in a base, evenly spread in several prime bases at once.
double radical_inverse(int index, int base) {
  double value = 0.0, digit = 1.0 / base;
  for (; index > 0; index /= base, digit /= base) value += (index % base) * digit;
  return value;
}

// A place in the tags' reach, uniform in volume, and an axis, uniform in direction, in the local directions
// there.
coil::ReceiverPlace<double> sample_place(const coil::Reach& reach, int index) {
  const double r = reach.radius * std::sqrt(radical_inverse(index, 2));
  const double z = reach.low + (reach.high - reach.low) * radical_inverse(index, 3);
  const double n_z = 2.0 * radical_inverse(index, 5) - 1.0;
  const double angle = 2.0 * constant::pi * radical_inverse(index, 7), across = std::sqrt(1.0 - n_z * n_z);
  return {r, z, across * std::cos(angle), across * std::sin(angle), n_z};
}

// Linkage amplitude [Wb; T of a plain threshold] as the flight has it. The local directions stand for the
// vessel's: the azimuth of the place does not matter when directions are all alike.
double linkage(const flight::Plan& plan, const flight::DesignPlan& design,
               const coil::ReceiverPlace<double>& at) {
  return flight::with_linkage(plan, design, [&](const auto& rule) {
    return std::sqrt(rule.template squared<double>(design, {at.r, 0.0, at.z}, {at.n_r, at.n_t, at.n_z}));
  });
}

BenchWinding bench_of(const coil::SeriesCircuit& winding, double temperature) {
  return {winding.inductance(bench_frequency, temperature),
          winding.resistance(bench_frequency, temperature).dc};
}

Field field_of_plan(const flight::Plan& plan, const coil::Reach& reach) {
  std::vector<double> values;
  for (int i = 1; i <= samples; ++i) {
    const auto at = sample_place(reach, i);
    values.push_back(plan.flux_density_peak(at.r, at.z));
  }
  std::sort(values.begin(), values.end());
  const double centre = plan.flux_density_peak(0.0, 0.5 * plan.vessel.height);
  return {plan.drive.frequency,
          centre,
          {values[samples / 20], values[samples / 2], values[samples - samples / 20]},
          values.back(),
          plan.omega * search_coil_area * centre / std::sqrt(2.0)};
}

DriveCircuit drive_of(const scenario::Scenario& scenario, const maps::CoilState& state) {
  DriveCircuit drive{
      {}, state.point, bench_of(state.circuit, scenario.ambient.temperature), state.map.error()};
  const auto& given = std::get<scenario::CoilDrive>(scenario.drive).coils;
  for (std::size_t i = 0; i < given.size(); ++i) {
    const auto& wound = state.circuit.coils()[i];
    drive.coils.push_back({given[i].name, given[i].winding.turns, given[i].winding.layers, wound.wire_length,
                           wound.copper_mass, wound.outer_radius, state.point.copper_temperature[i]});
  }
  return drive;
}

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

double coupling_at_contact(const coil::WoundCoil& wound, double distance, double inductance) {
  auto other = wound.turns;
  for (auto& turn : other) turn.height += distance;
  return coil::mutual_inductance(wound.turns, other) / inductance;
}

Tank tank_of(const scenario::CircuitReceiver& receiver, const scenario::Scenario& scenario,
             const flight::Plan& plan, const flight::DesignPlan& design) {
  const auto wound = maps::wound_receiver(receiver.winding);
  const coil::SeriesCircuit winding({wound});
  const auto nominal = flight::nominal_tank(*design.tank, design.leds.front());
  const bool can_touch = plan.tags > 1 && !design.hold && design.kind == scenario::BodyKind::solid;
  const double resonance = receiver::resonance_frequency(nominal);
  const auto& w = receiver.winding;
  const double temperature = scenario.ambient.temperature;
  return {{w.inner_diameter, w.turns, w.layers, {w.wire.bare_diameter, w.wire.enamelled_diameter}, w.pitch},
          wound.wire_length,
          wound.copper_mass,
          design.tank->inductance,
          design.tank->resistance,
          winding.resistance_trust(plan.drive.frequency, temperature),
          design.tank->capacitance,
          receiver::quality_factor(nominal, plan.omega),
          resonance,
          resonance / plan.drive.frequency - 1.0,
          design.moments.area_turns,
          can_touch ? coupling_at_contact(wound, 2.0 * design.body.radius, design.tank->inductance) : 0.0,
          design.flux_rule,
          bench_of(winding, temperature)};
}

Fit::Led led_of(const scenario::Emitter& emitter, const flight::DesignPlan& design,
                const flight::LedPlan& led, double omega, double emf_largest) {
  // Twice the largest EMF, so that a tag that stays dark still tells how much it lacks.
  const auto curve = receiver::solve_glow_curve(flight::nominal_tank(*design.tank, led), omega,
                                                2.0 * omega * design.linkage_max);
  Fit::Led result{led.colour,
                  led.law.parameters(),
                  led.worst_residual,
                  receiver::has_point_within_factor_ten(emitter.points, led.on_mean_current),
                  led.on_mean_current,
                  curve.threshold_emf(led.on_mean_current),
                  flight::over_rating_emf(curve, led),
                  emf_largest,
                  led.mean_current_rating,
                  led.peak_current_rating,
                  led.reverse_voltage_rating,
                  curve.at(emf_largest),
                  {}};
  for (const auto& point : curve.points()) result.curve.push_back(point.value);
  return result;
}

Design design_of(const scenario::TagDesign& tag, const flight::DesignPlan& plan_of_it,
                 const scenario::Scenario& scenario, const flight::Plan& plan, const coil::Reach& reach) {
  Design design{tag.name, tag.count, tag.body.mass, tag.body.parts, {}, {}, {}};
  if (const auto* receiver = std::get_if<scenario::CircuitReceiver>(&tag.receiver)) {
    design.tank = tank_of(*receiver, scenario, plan, plan_of_it);
  }
  if (!tag.hold && tag.body.kind == scenario::BodyKind::solid) {
    const auto& body = plan_of_it.body;
    design.lift = Lift{terminal_speed(body, plan_of_it.terms, body.area_along),
                       terminal_speed(body, plan_of_it.terms, body.area_across)};
  }
  std::vector<double> linkages;
  for (int i = 1; i <= samples; ++i) linkages.push_back(linkage(plan, plan_of_it, sample_place(reach, i)));
  std::sort(linkages.begin(), linkages.end());
  const auto share_from = [&](double from) {
    return static_cast<double>(linkages.end() - std::lower_bound(linkages.begin(), linkages.end(), from)) /
           samples;
  };
  for (std::size_t i = 0; i < plan_of_it.fits.size(); ++i) {
    Fit fit{plan_of_it.fits[i], {}, 0.0, 0.0, 0.0};
    double on_linkage, over_linkage = std::numeric_limits<double>::infinity();
    if (plan_of_it.threshold) {
      on_linkage = *plan_of_it.threshold;
    } else {
      const auto emitter = std::find_if(scenario.emitters.begin(), scenario.emitters.end(),
                                        [&](const auto& e) { return e.name == fit.name; });
      if (emitter == scenario.emitters.end()) throw LogicError("fit without emitter: " + fit.name);
      fit.led = led_of(*emitter, plan_of_it, plan_of_it.leds[i], plan.omega, plan.omega * linkages.back());
      on_linkage = fit.led->threshold_emf / plan.omega;
      over_linkage = fit.led->over_rating_emf / plan.omega;
    }
    fit.on_flux_density = on_linkage / plan_of_it.moments.area_turns;
    fit.share_on = share_from(on_linkage);
    fit.share_over_rating = share_from(over_linkage);
    design.fits.push_back(std::move(fit));
  }
  return design;
}

Exposure exposure_of(const scenario::Scenario& scenario, const flight::Plan& plan) {
  double rms;
  if (const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field)) {
    rms = surface_flux_density_rms(coils->circuit, scenario.vessel, coils->point.current_peak,
                                   exposure_clearance);
  } else {
    const auto& uniform = std::get<scenario::UniformField>(plan.drive.field);
    rms = uniform.flux_density_peak / (uniform.quadrature_axis ? 1.0 : std::sqrt(2.0));
  }
  return {exposure_clearance, rms, safety::field_cautions(rms, plan.drive.frequency)};
}

std::string named(safety::Guideline guideline) {
  return guideline == safety::Guideline::icnirp_2010 ? "ICNIRP 2010" : "ICNIRP 2020";
}

std::string named(driver::Rating rating) {
  switch (rating) {
    case driver::Rating::supply_current:
      return "the supply current";
    case driver::Rating::capacitor_voltage:
      return "the tank capacitor's peak voltage";
    case driver::Rating::capacitor_current:
      return "the tank capacitor's rms current";
  }
  throw LogicError("unknown rating");
}

void caution_of_exposure(const Exposure& exposure, std::vector<std::string>& cautions) {
  for (const auto& level : exposure.levels) {
    if (level.ratio() <= 1.0) continue;
    const bool everyone = level.population == safety::Population::general_public;
    cautions.push_back(fmt::format(
        "{} rms at {} outside coils and vessel is {:.1f} times the {} reference level of {} for {}: keep "
        "people at a "
        "distance; local rules decide.",
        with_prefix(level.value, "T"), with_prefix(exposure.clearance, "m"), level.ratio(),
        named(level.guideline), with_prefix(level.level, "T"), everyone ? "the public" : "trained staff"));
  }
  // The public level says nothing about devices in the body.
  cautions.push_back(
      "People with a pacemaker, insulin pump or other implant keep away while the drive is on: put up a "
      "sign.");
}

void cautions_of_drive(const DriveCircuit& drive, std::vector<std::string>& cautions) {
  // From memory: above 25 V rms ac, dry, bare parts want protection from touch even at extra-low voltage (IEC
  // 60364-4-41).
  constexpr double touch_voltage_rms = 25.0, hot_copper = constant::zero_celsius + 60.0;
  const auto& point = drive.point;
  if (point.coil_voltage_peak > std::sqrt(2.0) * touch_voltage_rms) {
    cautions.push_back(fmt::format("The coil ends carry {} peak at {}: insulate them, they burn the skin.",
                                   with_prefix(point.coil_voltage_peak, "V"),
                                   with_prefix(point.frequency, "Hz")));
  }
  if (point.tank) {
    for (const auto& over : point.tank->exceeded) {
      const char* unit = over.rating == driver::Rating::capacitor_voltage ? "V" : "A";
      cautions.push_back(fmt::format("Rating exceeded: {} is {}, rated {}.", named(over.rating),
                                     with_prefix(over.value, unit), with_prefix(over.limit, unit)));
    }
  }
  for (const auto& coil : drive.coils) {
    if (coil.copper_temperature > hot_copper) {
      cautions.push_back(fmt::format(
          "Coil {} reaches about {:.0f} degC in still air: keep it out of reach and off plastics.", coil.name,
          coil.copper_temperature - constant::zero_celsius));
    }
  }
  const auto& trust = point.resistance_trust;
  if (trust.validity == coil::ProximityValidity::close) {
    cautions.push_back(fmt::format(
        "The drive winding is close (spacing {:.2f} wire diameters): its resistance is low by up to {}.",
        trust.spacing_ratio, percent(trust.low_by_up_to)));
  }
}

void cautions_of_air(const Airflow& air, std::vector<std::string>& cautions) {
  constexpr double low_margin = 0.1;
  if (air.fan && air.fan->flow_margin < low_margin) {
    cautions.push_back(fmt::format(
        "The fan works at {} below its free flow: hardly any pressure is left for dirt in the mesh.",
        percent(air.fan->flow_margin)));
  }
  if (air.fan && air.fan->pressure_margin < low_margin) {
    cautions.push_back(
        fmt::format("The fan has {} of its pressure left: near stall, expect noise and an unsteady flow.",
                    percent(air.fan->pressure_margin)));
  }
  if (air.fan)
    cautions.push_back(
        "Guard the fan's blades on both sides, and switch it off before the vessel is opened.");
}

void cautions_of_fit(const std::string& tag, const Fit& fit, std::vector<std::string>& cautions) {
  const std::string who = tag + " with " + fit.name;
  if (fit.share_on == 0.0) cautions.push_back(fmt::format("{} lights nowhere in the vessel.", who));
  if (!fit.led) return;
  const auto& led = *fit.led;
  if (!led.point_near_threshold) {
    cautions.push_back(fmt::format(
        "{}: no data-sheet point within a factor of ten of {}, where it begins to count as lit: measure one.",
        who, with_prefix(led.on_mean_current, "A")));
  }
  const auto over = [&](double value, double rating, const char* what, const char* unit) {
    if (value <= rating) return;
    cautions.push_back(
        fmt::format("{}: {} up to {}, rated {} (over a rating in {} of places and directions).", who, what,
                    with_prefix(value, unit), with_prefix(rating, unit), percent(fit.share_over_rating)));
  };
  over(led.at_largest.mean_current, led.mean_current_rating, "mean current", "A");
  over(led.at_largest.peak_current, led.peak_current_rating, "peak current", "A");
  over(led.at_largest.reverse_peak, led.reverse_voltage_rating, "reverse voltage", "V");
}

void cautions_of_design(const Design& design, const Airflow& air, std::vector<std::string>& cautions) {
  constexpr double coupled = 0.2,
                   emf_error = 0.005;  // model.md: where neighbours detune, and what the EMF may be off by
  if (design.tank) {
    const auto& tank = *design.tank;
    if (tank.neighbour_coupling * tank.Q > coupled) {
      cautions.push_back(
          fmt::format("{}: touching tags detune each other (k Q = {:.2f}, above {}); a flight neglects this.",
                      design.name, tank.neighbour_coupling * tank.Q, coupled));
    }
    if (tank.flux_rule.error() > emf_error) {
      cautions.push_back(fmt::format("{}: the EMF is off by up to {} near the drive wires.", design.name,
                                     percent(tank.flux_rule.error())));
    }
    if (tank.resistance_trust.validity == coil::ProximityValidity::close &&
        tank.resistance_trust.low_by_up_to > 0.02) {
      cautions.push_back(fmt::format("{}: the receiver is wound close, its resistance is low by up to {}.",
                                     design.name, percent(tank.resistance_trust.low_by_up_to)));
    }
  }
  if (design.lift) {
    const double slowest = std::min(design.lift->terminal_speed_along, design.lift->terminal_speed_across);
    const double upward = std::max(air.axis_speed, air.mean_speed);
    if (upward < slowest) {
      cautions.push_back(fmt::format("{} cannot lift: the air rises at {}, the tag falls at {} or faster.",
                                     design.name, with_prefix(upward, "m/s"), with_prefix(slowest, "m/s")));
    }
  }
  for (const auto& fit : design.fits) cautions_of_fit(design.name, fit, cautions);
}

}  // namespace

double surface_flux_density_rms(const coil::SeriesCircuit& coils, const scenario::Vessel& vessel,
                                double current_peak, double clearance) {
  double radius = 0.5 * vessel.inner_diameter, low = 0.0, high = vessel.height;
  for (const auto& coil : coils.coils()) {
    radius = std::max(radius, coil.outer_radius);
    for (const auto& turn : coil.turns) {
      low = std::min(low, turn.height - 0.5 * coil.wire.enamelled_diameter);
      high = std::max(high, turn.height + 0.5 * coil.wire.enamelled_diameter);
    }
  }
  radius += clearance;
  low -= clearance;
  high += clearance;
  constexpr double spacing = 2e-3;
  const auto turns = coils.turns();
  double largest = 0.0;
  const auto look = [&](double r, double z) {
    const auto field = coil::field_of(turns, r, z);
    largest = std::max(largest, std::hypot(r * field.radial_over_rho, field.axial));
  };
  const int along = static_cast<int>(std::ceil((high - low) / spacing));
  for (int i = 0; i <= along; ++i) look(radius, low + (high - low) * i / along);
  const int across = static_cast<int>(std::ceil(radius / spacing));
  for (int i = 0; i <= across; ++i) {
    look(radius * i / across, low);
    look(radius * i / across, high);
  }
  return current_peak * largest / std::sqrt(2.0);
}

std::optional<std::string> flash_caution(const std::string& tag, double flashes_per_minute) {
  const double rate = flashes_per_minute / 60.0;
  if (!(rate > safety::sensitive_flash_rate_low)) return std::nullopt;
  return fmt::format(
      "{} flashes {:.1f} times in a second (above {:.0f}): flashing light can trigger seizures; put up a "
      "sign.",
      tag, rate, safety::sensitive_flash_rate_low);
}

DesignSheet make_sheet(const scenario::Scenario& scenario, const flight::Plan& plan) {
  const auto reach = maps::tag_reach(scenario);
  const auto& column = plan.air.column;
  DesignSheet sheet{
      scenario.title.empty() ? scenario.name : scenario.title,
      field_of_plan(plan, reach),
      {},
      {column.design().flow, column.mean_speed(), column.velocity(0.0, 0.5 * scenario.vessel.height).u_z,
       plan.air.density, plan.air.fan_point},
      {},
      exposure_of(scenario, plan),
      {}};
  if (const auto* coils = std::get_if<maps::CoilState>(&plan.drive.field))
    sheet.drive = drive_of(scenario, *coils);
  for (std::size_t i = 0; i < scenario.tags.size(); ++i) {
    sheet.designs.push_back(design_of(scenario.tags[i], plan.designs[i], scenario, plan, reach));
  }
  caution_of_exposure(sheet.exposure, sheet.cautions);
  if (sheet.drive) cautions_of_drive(*sheet.drive, sheet.cautions);
  cautions_of_air(sheet.air, sheet.cautions);
  for (const auto& design : sheet.designs) cautions_of_design(design, sheet.air, sheet.cautions);
  sheet.cautions.push_back(
      "Glowing tags flash as they turn; more than three flashes in a second can trigger seizures: a flight "
      "counts them.");
  return sheet;
}

}  // namespace driftglow::sheet
