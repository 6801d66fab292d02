#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "models/constants.hpp"
#include "sim/sheet/design_sheet.hpp"
#include "sim/sheet/quantity_text.hpp"

namespace driftglow::sheet {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t columns = 100, label_width = 18;

// One labelled entry, its words wrapped into the columns beside the label.
std::string entry(std::string_view label, const std::string& text) {
  std::string result = fmt::format("{:<{}}", label, label_width);
  std::size_t used = label_width;
  std::istringstream words(text);
  bool first = true;
  for (std::string word; words >> word; first = false) {
    std::replace(word.begin(), word.end(), '~', ' ');
    if (!first && used + 1 + word.size() > columns) {
      result += '\n';
      result.append(label_width, ' ');
      used = label_width;
      first = true;
    }
    if (!first) result += ' ', ++used;
    result += word;
    used += word.size();
  }
  return result + "\n";
}

// A value that no line break parts from its unit.
std::string q(double value, std::string_view unit) {
  std::string text = with_prefix(value, unit);
  std::replace(text.begin(), text.end(), ' ', '~');
  return text;
}

std::string share(double value) {
  std::string text = percent(value);
  std::replace(text.begin(), text.end(), ' ', '~');
  return text;
}

std::string rating_text(double over_rating_emf, double share_over_rating) {
  if (!std::isfinite(over_rating_emf)) return "no rating reached";
  return fmt::format("a rating reached at {} ({} of places)", q(over_rating_emf, "V"),
                     share(share_over_rating));
}

std::string grams(double kilograms) {
  return q(1e3 * kilograms, "g");
}

double celsius(double kelvin) {
  return kelvin - constant::zero_celsius;
}

std::string trust_text(const coil::ResistanceTrust& trust) {
  if (trust.validity == coil::ProximityValidity::spaced) return "R within 4~%";
  return fmt::format("R low by up to {} (close winding)", share(trust.low_by_up_to));
}

std::string drive_text(const DriveCircuit& drive) {
  std::string text;
  for (const auto& coil : drive.coils) {
    text += entry(
        fmt::format("coil {}", coil.name),
        fmt::format("{} turns in {} {}, wire {}, copper {}, outer radius {}, {:.0f}~degC in still air",
                    coil.turns, coil.layers, coil.layers == 1 ? "layer" : "layers", q(coil.wire_length, "m"),
                    grams(coil.copper_mass), q(coil.outer_radius, "m"), celsius(coil.copper_temperature)));
  }
  const auto& point = drive.point;
  const auto& R = point.resistance;
  text += entry("circuit", fmt::format("L {}, R {} (dc {}, skin {}, proximity {}; {}), Q {:.0f}",
                                       q(point.L, "H"), q(R.total, "ohm"), q(R.dc, "ohm"), q(R.skin, "ohm"),
                                       q(R.proximity, "ohm"), trust_text(point.resistance_trust), point.Q()));
  text += entry("driver", fmt::format("{}, coil current {} peak, {} peak across the coils, copper loss {}",
                                      q(point.frequency, "Hz"), q(point.current_peak, "A"),
                                      q(point.coil_voltage_peak, "V"), q(point.copper_loss, "W")));
  if (point.tank) {
    text +=
        entry("", fmt::format("tank capacitor {} rms, loss {}; supply {}, {}",
                              q(point.tank->capacitor_current_rms, "A"), q(point.tank->capacitor_loss, "W"),
                              q(point.tank->supply_current, "A"), q(point.tank->supply_power, "W")));
  }
  return text;
}

std::string field_text(const DesignSheet& sheet) {
  const auto& field = sheet.field;
  std::string text =
      entry("field", fmt::format("{} peak at the centre; 5/50/95~% of the tags' reach below {} / {} / {}",
                                 q(field.centre, "T"), q(field.percentiles[0], "T"),
                                 q(field.percentiles[1], "T"), q(field.percentiles[2], "T")));
  text += entry("exposure",
                fmt::format("{} rms at most, {} outside coils and vessel",
                            q(sheet.exposure.flux_density_rms, "T"), q(sheet.exposure.clearance, "m")));
  for (const auto& level : sheet.exposure.levels) {
    text += entry(
        "",
        fmt::format("{} times {}, ICNIRP {}, {}", fmt::format("{:.2g}", level.ratio()), q(level.level, "T"),
                    level.guideline == safety::Guideline::icnirp_2010 ? "2010" : "2020",
                    level.population == safety::Population::general_public ? "the public" : "at work"));
  }
  return text;
}

std::string bench_text(const DesignSheet& sheet) {
  const auto winding = [](const BenchWinding& bench) {
    return fmt::format("{} at 1~kHz, {} dc", q(bench.inductance, "H"), q(bench.resistance, "ohm"));
  };
  std::string text;
  if (sheet.drive)
    text += entry("bench meter", fmt::format("drive coils in series {}", winding(sheet.drive->bench)));
  for (const auto& design : sheet.designs) {
    if (design.tank) text += entry("bench meter", design.name + " receiver " + winding(design.tank->bench));
  }
  return text +
         entry("search coil", fmt::format("one turn of {:.0f}~cm2 at the centre, across the axis: {} rms",
                                          1e4 * search_coil_area, q(sheet.field.search_coil_voltage, "V")));
}

std::string air_text(const Airflow& air) {
  std::string text =
      entry("air", fmt::format("{:.4g}~m3/s, up at {} in the mean and {} on the axis at half height",
                               air.flow, q(air.mean_speed, "m/s"), q(air.axis_speed, "m/s")));
  if (air.fan) {
    text +=
        entry("fan", fmt::format("{} ({} of it carries the tags); margin {} of the pressure, {} of the flow",
                                 q(air.fan->pressure, "Pa"), q(air.fan->tag_pressure, "Pa"),
                                 share(air.fan->pressure_margin), share(air.fan->flow_margin)));
  }
  return text;
}

std::string fit_text(const Fit& fit) {
  std::string text = fmt::format("{}: lit from {} along the axis, in {} of places and directions", fit.name,
                                 q(fit.on_flux_density, "T"), share(fit.share_on));
  if (!fit.led) return entry("  fit", text);
  const auto& led = *fit.led;
  text = entry("  fit", text + fmt::format("; EMF {} peak for {} mean", q(led.threshold_emf, "V"),
                                           q(led.on_mean_current, "A")));
  text += entry("", fmt::format("LED n_id {:.2f}, I_s {:.2e}~A, R_s {}, fit within {}",
                                led.parameters.ideality, led.parameters.saturation_current,
                                q(led.parameters.series_resistance, "ohm"), q(led.worst_residual, "V")));
  const auto& most = led.at_largest;
  text += entry(
      "", fmt::format("at the largest EMF {}: {} mean, {} peak, {} reverse; {}", q(led.emf_largest, "V"),
                      q(most.mean_current, "A"), q(most.peak_current, "A"), q(most.reverse_peak, "V"),
                      rating_text(led.over_rating_emf, fit.share_over_rating)));
  std::string curve = "glow curve, EMF: mean current, tank peak:";
  // A few of the points where it matters: those that span dark to the largest EMF.
  std::vector<receiver::OperatingPoint> shown;
  for (const auto& point : led.curve) {
    if (point.mean_current > 1e-6 && point.emf_peak <= led.emf_largest) shown.push_back(point);
  }
  constexpr std::size_t most_shown = 6;
  const std::size_t count = std::min(most_shown, shown.size());
  for (std::size_t i = 0; i < count; ++i) {
    const auto& point = shown[count > 1 ? i * (shown.size() - 1) / (count - 1) : 0];
    curve += fmt::format(" {}:~{},~{}{}", q(point.emf_peak, "V"), q(point.mean_current, "A"),
                         q(point.tank_peak(), "V"), i + 1 < count ? ";" : "");
  }
  return text + (count > 0 ? entry("", curve) : "");
}

std::string design_text(const Design& design) {
  std::string text = entry(fmt::format("tag {}", design.name), "");
  std::string mass = fmt::format("{} tags of {}", design.count, grams(design.mass));
  for (const auto& part : design.parts)
    mass += fmt::format("{} {} {}", &part == &design.parts.front() ? ":" : ",", part.name, grams(part.mass));
  text += entry("  mass", mass);
  if (design.lift) {
    text += entry("  lift", fmt::format("falls at {} along its axis, {} across it",
                                        q(design.lift->terminal_speed_along, "m/s"),
                                        q(design.lift->terminal_speed_across, "m/s")));
  }
  if (design.tank) {
    const auto& tank = *design.tank;
    text +=
        entry("  receiver",
              fmt::format("{} turns in {} {}, wire {}, copper {}, N A {:.1f}~cm2; L {}, R {} ({}), Q {:.1f}",
                          tank.winding.turns, tank.winding.layers,
                          tank.winding.layers == 1 ? "layer" : "layers", q(tank.wire_length, "m"),
                          grams(tank.copper_mass), 1e4 * tank.area_turns, q(tank.inductance, "H"),
                          q(tank.resistance, "ohm"), trust_text(tank.resistance_trust), tank.Q));
    text += entry(
        "  tank",
        fmt::format(
            "{}, resonance {} ({:+.1f}~% off the drive), EMF within {:.2f}~%, neighbours k {:.3f} at contact",
            q(tank.capacitance, "F"), q(tank.resonance_frequency, "Hz"), 100.0 * tank.detuning,
            100.0 * tank.flux_rule.error(), tank.neighbour_coupling));
  }
  for (const auto& fit : design.fits) text += fit_text(fit);
  return text;
}

Json json_of(const BenchWinding& bench) {
  return {{"inductance_1kHz", bench.inductance}, {"resistance_dc", bench.resistance}};
}

Json json_of(const coil::ResistanceTrust& trust) {
  return {{"winding", trust.validity == coil::ProximityValidity::spaced ? "spaced" : "close"},
          {"spacing_ratio", trust.spacing_ratio},
          {"low_by_up_to", trust.validity == coil::ProximityValidity::spaced ? 0.0 : trust.low_by_up_to}};
}

Json json_of(const receiver::OperatingPoint& point) {
  return {{"emf_peak", point.emf_peak},
          {"mean_current", point.mean_current},
          {"peak_current", point.peak_current},
          {"forward_peak", point.forward_peak},
          {"reverse_peak", point.reverse_peak},
          {"real_power", point.real_power},
          {"reactive_power", point.reactive_power}};
}

Json json_of(const DriveCircuit& drive) {
  Json json;
  for (const auto& coil : drive.coils) {
    json["coils"].push_back({{"name", coil.name},
                             {"turns", coil.turns},
                             {"layers", coil.layers},
                             {"wire_length", coil.wire_length},
                             {"copper_mass", coil.copper_mass},
                             {"outer_radius", coil.outer_radius},
                             {"copper_temperature", coil.copper_temperature}});
  }
  const auto& point = drive.point;
  json["inductance"] = point.L;
  json["resistance"] = {{"total", point.resistance.total},
                        {"dc", point.resistance.dc},
                        {"skin", point.resistance.skin},
                        {"proximity", point.resistance.proximity}};
  json["resistance_trust"] = json_of(point.resistance_trust);
  json["Q"] = point.Q();
  json["frequency"] = point.frequency;
  json["current_peak"] = point.current_peak;
  json["coil_voltage_peak"] = point.coil_voltage_peak;
  json["copper_loss"] = point.copper_loss;
  if (point.tank) {
    json["capacitor_voltage_peak"] = point.tank->capacitor_voltage_peak;
    json["capacitor_current_rms"] = point.tank->capacitor_current_rms;
    json["capacitor_loss"] = point.tank->capacitor_loss;
    json["supply_current"] = point.tank->supply_current;
    json["supply_power"] = point.tank->supply_power;
  }
  json["bench"] = json_of(drive.bench);
  json["map_error"] = drive.map_error;
  return json;
}

Json json_of(const Airflow& air) {
  Json json = {{"flow", air.flow},
               {"mean_speed", air.mean_speed},
               {"axis_speed", air.axis_speed},
               {"density", air.density}};
  if (air.fan) {
    json["fan"] = {{"pressure", air.fan->pressure},
                   {"tag_pressure", air.fan->tag_pressure},
                   {"pressure_margin", air.fan->pressure_margin},
                   {"flow_margin", air.fan->flow_margin}};
    for (const auto& [name, pressure] : air.fan->loss_pressures)
      json["fan"]["loss_pressures"][name] = pressure;
  }
  return json;
}

Json json_of(const Tank& tank) {
  return {{"inner_diameter", tank.winding.inner_diameter},
          {"turns", tank.winding.turns},
          {"layers", tank.winding.layers},
          {"wire_length", tank.wire_length},
          {"copper_mass", tank.copper_mass},
          {"inductance", tank.inductance},
          {"resistance", tank.resistance},
          {"resistance_trust", json_of(tank.resistance_trust)},
          {"capacitance", tank.capacitance},
          {"Q", tank.Q},
          {"resonance_frequency", tank.resonance_frequency},
          {"detuning", tank.detuning},
          {"area_turns", tank.area_turns},
          {"neighbour_coupling", tank.neighbour_coupling},
          {"flux_rule", tank.flux_rule.rule == coil::FluxRule::curvature ? "curvature" : "seven_point"},
          {"emf_error", tank.flux_rule.error()},
          {"bench", json_of(tank.bench)}};
}

Json json_of(const Fit& fit) {
  Json json = {{"name", fit.name},
               {"on_flux_density", fit.on_flux_density},
               {"share_on", fit.share_on},
               {"share_over_rating", fit.share_over_rating}};
  if (!fit.led) return json;
  const auto& led = *fit.led;
  json["led"] = {{"colour", led.colour},
                 {"ideality", led.parameters.ideality},
                 {"saturation_current", led.parameters.saturation_current},
                 {"series_resistance", led.parameters.series_resistance},
                 {"temperature", led.parameters.temperature},
                 {"worst_residual", led.worst_residual},
                 {"point_near_threshold", led.point_near_threshold},
                 {"on_mean_current", led.on_mean_current},
                 {"threshold_emf", led.threshold_emf},
                 {"over_rating_emf", led.over_rating_emf},
                 {"mean_current_rating", led.mean_current_rating},
                 {"peak_current_rating", led.peak_current_rating},
                 {"reverse_voltage_rating", led.reverse_voltage_rating},
                 {"at_largest_emf", json_of(led.at_largest)}};
  for (const auto& point : led.curve) json["led"]["glow_curve"].push_back(json_of(point));
  return json;
}

Json json_of(const Design& design) {
  Json json = {{"name", design.name}, {"count", design.count}, {"mass", design.mass}};
  for (const auto& part : design.parts) json["parts"].push_back({{"name", part.name}, {"mass", part.mass}});
  if (design.lift) {
    json["terminal_speed_along"] = design.lift->terminal_speed_along;
    json["terminal_speed_across"] = design.lift->terminal_speed_across;
  }
  if (design.tank) json["receiver"] = json_of(*design.tank);
  json["fits"] = Json::array();
  for (const auto& fit : design.fits) json["fits"].push_back(json_of(fit));
  return json;
}

Json json_of(const Exposure& exposure) {
  Json json = {{"clearance", exposure.clearance}, {"flux_density_rms", exposure.flux_density_rms}};
  json["levels"] = Json::array();
  for (const auto& level : exposure.levels) {
    json["levels"].push_back(
        {{"guideline", level.guideline == safety::Guideline::icnirp_2010 ? "icnirp_2010" : "icnirp_2020"},
         {"population",
          level.population == safety::Population::general_public ? "general_public" : "occupational"},
         {"level_rms", level.level},
         {"ratio", level.ratio()}});
  }
  return json;
}

}  // namespace

std::string sheet_text(const DesignSheet& sheet) {
  std::string text = sheet.title + ": design sheet\n\n";
  if (sheet.drive) text += drive_text(*sheet.drive);
  text += field_text(sheet) + bench_text(sheet) + air_text(sheet.air);
  for (const auto& design : sheet.designs) text += "\n" + design_text(design);
  text += "\n";
  for (const auto& caution : sheet.cautions)
    text += entry(&caution == &sheet.cautions.front() ? "cautions" : "", caution);
  return text;
}

Json sheet_json(const DesignSheet& sheet) {
  Json json;
  json["title"] = sheet.title;
  if (sheet.drive) json["drive"] = json_of(*sheet.drive);
  json["field"] = {{"frequency", sheet.field.frequency},
                   {"centre_peak", sheet.field.centre},
                   {"percentiles_5_50_95_peak", sheet.field.percentiles},
                   {"largest_peak", sheet.field.largest},
                   {"search_coil_area", search_coil_area},
                   {"search_coil_voltage_rms", sheet.field.search_coil_voltage}};
  json["air"] = json_of(sheet.air);
  json["tags"] = Json::array();
  for (const auto& design : sheet.designs) json["tags"].push_back(json_of(design));
  json["exposure"] = json_of(sheet.exposure);
  json["cautions"] = sheet.cautions;
  return json;
}

}  // namespace driftglow::sheet
