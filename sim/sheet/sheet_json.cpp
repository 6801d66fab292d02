#include <cmath>

#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

using Json = nlohmann::ordered_json;

template <class Value>
Json json_of(const std::optional<Value>& value) {
  return value ? Json(*value) : Json(nullptr);
}

Json json_of(const BenchWinding& bench) {
  Json json = {{"inductance_1kHz", bench.readings.front().inductance},
               {"resistance_dc", bench.resistance_dc}};
  for (const auto& reading : bench.readings) {
    json["meter"].push_back({{"frequency", reading.frequency},
                             {"inductance", reading.inductance},
                             {"resistance", reading.resistance}});
  }
  return json;
}

const char* named(coil::ProximityValidity validity) {
  switch (validity) {
    case coil::ProximityValidity::spaced:
      return "spaced";
    case coil::ProximityValidity::solved:
      return "solved";
    case coil::ProximityValidity::close:
      return "close";
  }
  return "";
}

Json json_of(const coil::ResistanceTrust& trust) {
  return {{"winding", named(trust.validity)},
          {"spacing_ratio", trust.spacing_ratio},
          {"low_by_up_to", trust.low_by_up_to}};
}

const char* named(coil::SelfResonance::Concern concern) {
  switch (concern) {
    case coil::SelfResonance::Concern::none:
      return "none";
    case coil::SelfResonance::Concern::shifts_tank:
      return "shifts_tank";
    case coil::SelfResonance::Concern::near_resonance:
      return "near_resonance";
  }
  return "";
}

Json json_of(const coil::SelfResonance& self) {
  return {{"frequency", self.frequency},
          {"use_ratio", self.use_ratio},
          {"tank_shift", self.tank_shift},
          {"concern", named(self.concern)}};
}

Json json_of(const CapacitorAid::Choice& choice) {
  return {{"first", choice.capacitors.first},
          {"second", choice.capacitors.second},
          {"error", choice.capacitors.error},
          {"resonance_error", choice.resonance_error}};
}

Json json_of(const CapacitorAid& aid) {
  return {{"series", "E12"},
          {"wanted", aid.wanted},
          {"single", json_of(aid.single)},
          {"pair", json_of(aid.pair)}};
}

Json json_of(const SupplyPoint& point) {
  return {{"supply_current", json_of(point.supply_current)},
          {"supply_power", json_of(point.supply_power)},
          {"current_peak", point.current_peak},
          {"frequency", point.frequency},
          {"tag_power", point.tag_power}};
}

Json json_of(const safety::Touch& touch) {
  Json json = {{"voltage_peak", touch.voltage_peak},
               {"voltage_rms", touch.voltage_rms},
               {"contact_current_rms", touch.contact_current},
               {"contact_current_level_rms", touch.contact_current_level}};
  for (const auto& level : touch.levels)
    json["levels"].push_back({{"rule", name(level.rule)}, {"ac_rms", level.ac_rms}, {"dc", level.dc}});
  return json;
}

// With two LEDs what the second does, too.
Json json_of(const receiver::OperatingPoint& point, bool pair) {
  Json json{{"emf_peak", point.emf_peak},
            {"mean_current", point.mean_current},
            {"peak_current", point.peak_current},
            {"forward_peak", point.forward_peak},
            {"reverse_peak", point.reverse_peak},
            {"real_power", point.real_power},
            {"reactive_power", point.reactive_power}};
  if (pair) {
    json["mean_current_antiparallel"] = point.mean_current_antiparallel;
    json["peak_current_antiparallel"] = point.peak_current_antiparallel;
  }
  return json;
}

Json json_of(const DriveCircuit& circuit, double map_error) {
  Json json;
  json["circuit"] = circuit.name;
  for (const auto& coil : circuit.coils) {
    json["coils"].push_back({{"name", coil.name},
                             {"turns", coil.turns},
                             {"layers", coil.layers},
                             {"most_turns", json_of(coil.most_turns)},
                             {"wire_length", coil.wire_length},
                             {"copper_mass", coil.copper_mass},
                             {"resistance_dc", coil.resistance_dc},
                             {"outer_radius", coil.outer_radius},
                             {"loss", coil.loss},
                             {"current_rms", coil.copper.current_rms},
                             {"current_density", coil.copper.current_density},
                             {"ampacity_rms", coil.copper.ampacity_rms},
                             {"copper_temperature", coil.copper.temperature}});
  }
  const auto& point = circuit.point;
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
  if (point.bridge) {
    const auto& bridge = *point.bridge;
    json["bridge"] = {{"fundamental_peak", bridge.fundamental_peak},
                      {"arm_amplitude", bridge.arm_amplitude},
                      {"current_wave_peak", bridge.wave_peak},
                      {"current_wave_rms", bridge.wave_rms},
                      {"distortion", bridge.distortion},
                      {"third_harmonic", bridge.third_harmonic},
                      {"switched_current", bridge.switched_current},
                      {"power_factor", bridge.power_factor},
                      {"switch_loss", bridge.switch_loss},
                      {"harmonic_loss", bridge.harmonic_loss},
                      {"off_resonance", bridge.off_resonance}};
  }
  json["losses"] = {{"copper", circuit.losses.copper},       {"harmonics", circuit.losses.harmonics},
                    {"capacitor", circuit.losses.capacitor}, {"switches", circuit.losses.switches},
                    {"elsewhere", circuit.losses.elsewhere}, {"total", circuit.losses.total()}};
  json["bandwidth"] = circuit.bandwidth;
  json["bench"] = json_of(circuit.bench);
  json["self_capacitance"] = circuit.self_capacitance;
  if (circuit.self_resonance) json["self_resonance"] = json_of(*circuit.self_resonance);
  if (circuit.capacitor) json["capacitor_aid"] = json_of(*circuit.capacitor);
  if (circuit.small_choke) json["smallest_trusted_choke"] = *circuit.small_choke;
  if (circuit.draw) {
    json["tag_draw"] = {
        {"empty", json_of(circuit.draw->empty)},
        {"unlit", json_of(circuit.draw->unlit)},
        {"lit", json_of(circuit.draw->lit)},
        {"resonance", circuit.draw->resonance == TagDraw::Resonance::split ? "split" : "single"}};
  }
  if (circuit.spread) {
    json["tolerances"] = {{"frequency_low", circuit.spread->frequency_low},
                          {"frequency_high", circuit.spread->frequency_high},
                          {"current_low_peak", circuit.spread->current_low},
                          {"current_high_peak", circuit.spread->current_high}};
  }
  json["metal"] = {{"reflected_inductance", circuit.reflected_inductance},
                   {"reflected_resistance", circuit.reflected_resistance}};
  json["touch"] = json_of(circuit.touch);
  json["map_error"] = map_error;
  return json;
}

Json json_of(const std::vector<SearchCoilReading>& readings) {
  Json json = {{"diameter", search_coil_diameter}, {"readings", Json::array()}};
  for (const auto& reading : readings) {
    json["readings"].push_back({{"place", reading.place},
                                {"centre", {reading.centre.x(), reading.centre.y(), reading.centre.z()}},
                                {"flux_density_peak", reading.flux_density},
                                {"voltage_rms", reading.voltage_rms}});
  }
  return json;
}

Json json_of(const std::vector<FirstLight>& lights) {
  Json json = Json::array();
  for (const auto& light : lights) {
    json.push_back({{"tag", light.tag},
                    {"fit", light.fit},
                    {"coil", light.coil},
                    {"distance", json_of(light.distance)}});
  }
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

const char* named(receiver::SharpnessFacts::Concern concern) {
  switch (concern) {
    case receiver::SharpnessFacts::Concern::none:
      return "none";
    case receiver::SharpnessFacts::Concern::sharp:
      return "sharp";
    case receiver::SharpnessFacts::Concern::dull:
      return "dull";
  }
  return "";
}

Json json_of(const coupling::NeighbourCoupling& neighbours) {
  return {{"contact_distance", neighbours.contact_distance},
          {"contact_coaxial", neighbours.contact_coaxial},
          {"contact_worst", neighbours.contact_worst},
          {"contact_rms", neighbours.contact_rms},
          {"mean_distance", neighbours.mean_distance},
          {"mean_worst", neighbours.mean_worst},
          {"mean_rms", neighbours.mean_rms},
          {"k_Q", neighbours.caution_figure()}};
}

Json json_of(const Tank& tank) {
  Json json = {{"inner_diameter", tank.winding.inner_diameter},
               {"turns", tank.winding.turns},
               {"layers", tank.winding.layers},
               {"most_turns", json_of(tank.most_turns)},
               {"wire_length", tank.wire_length},
               {"copper_mass", tank.copper_mass},
               {"inductance", tank.inductance},
               {"resistance", tank.resistance},
               {"resistance_trust", json_of(tank.resistance_trust)},
               {"capacitance", tank.capacitance},
               {"capacitor_rated_voltage",
                tank.capacitor_rated_voltage ? Json(*tank.capacitor_rated_voltage) : Json()},
               {"Q", tank.sharpness.Q},
               {"bandwidth", tank.bandwidth},
               {"resonance_frequency", tank.resonance_frequency},
               {"detuning", tank.detuning},
               {"sharpness",
                {{"half_bandwidth", tank.sharpness.half_bandwidth},
                 {"largest_detuning", tank.sharpness.detuning},
                 {"nominal_gain", tank.sharpness.nominal_gain},
                 {"worst_gain", tank.sharpness.worst_gain},
                 {"concern", named(tank.sharpness.concern)}}},
               {"area_turns", tank.area_turns},
               {"self_capacitance", tank.self_capacitance},
               {"self_resonance", json_of(tank.self_resonance)},
               {"neighbour_coupling", tank.neighbours ? tank.neighbours->contact_coaxial : 0.0},
               {"flux_rule", tank.flux_rule.rule == coil::FluxRule::curvature ? "curvature" : "seven_point"},
               {"emf_error", tank.flux_rule.error()},
               {"bench", json_of(tank.bench)}};
  if (tank.neighbours) json["neighbours"] = json_of(*tank.neighbours);
  if (tank.capacitor) json["capacitor_aid"] = json_of(*tank.capacitor);
  return json;
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
                 {"at_largest_emf", json_of(led.at_largest, led.antiparallel.has_value())}};
  if (led.built) {
    json["led"]["built_tags"] = {{"band", yield_band},
                                 {"nominal_emf", led.built->nominal},
                                 {"lowest_emf", led.built->lowest},
                                 {"highest_emf", led.built->highest},
                                 {"share_within_band", led.built->share_within}};
  }
  if (led.antiparallel) {
    const auto& second = *led.antiparallel;
    json["led"]["antiparallel"] = {{"emitter", second.emitter},
                                   {"colour", second.colour},
                                   {"ideality", second.parameters.ideality},
                                   {"saturation_current", second.parameters.saturation_current},
                                   {"series_resistance", second.parameters.series_resistance},
                                   {"worst_residual", second.worst_residual},
                                   {"point_near_threshold", second.point_near_threshold},
                                   {"on_weight", second.on_weight},
                                   {"mean_current_rating", second.mean_current_rating},
                                   {"peak_current_rating", second.peak_current_rating},
                                   {"reverse_voltage_rating", second.reverse_voltage_rating}};
  }
  for (const auto& point : led.curve)
    json["led"]["glow_curve"].push_back(json_of(point, led.antiparallel.has_value()));
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
  Json json = {{"clearance", json_of(exposure.clearance)}, {"flux_density_rms", exposure.flux_density_rms}};
  if (exposure.inside_only) json["inside_only"] = true;
  json["levels"] = Json::array();
  for (const auto& [level, distance] : exposure.levels) {
    json["levels"].push_back(
        {{"guideline", level.guideline == safety::Guideline::icnirp_2010 ? "icnirp_2010" : "icnirp_2020"},
         {"population",
          level.population == safety::Population::general_public ? "general_public" : "occupational"},
         {"level_rms", level.level},
         {"ratio", level.ratio()},
         {"below_from_distance", json_of(distance)}});
  }
  if (!exposure.radiated) return json;
  for (const auto& field : *exposure.radiated) {
    json["radiated"].push_back({{"distance", field.distance},
                                {"level_dB_uA_per_m", field.level},
                                {"limit_dB_uA_per_m", json_of(field.limit)}});
  }
  return json;
}

}  // namespace

const char* name(safety::TouchRule rule) {
  switch (rule) {
    case safety::TouchRule::wet:
      return "wet";
    case safety::TouchRule::dry:
      return "dry";
    case safety::TouchRule::instrument:
      return "instrument";
    case safety::TouchRule::extra_low:
      return "extra-low";
  }
  return "";
}

Json sheet_json(const DesignSheet& sheet) {
  Json json;
  json["title"] = sheet.title;
  if (!sheet.circuits.empty()) json["drive"] = json_of(sheet.circuits.front(), sheet.field.map_error);
  for (std::size_t i = 1; i < sheet.circuits.size(); ++i)
    json["other_circuits"].push_back(json_of(sheet.circuits[i], sheet.field.map_error));
  for (const auto& part : sheet.metal) {
    json["metal"].push_back({{"name", part.name}, {"current_peak", part.current_peak}, {"loss", part.loss}});
  }
  for (const auto& pair : sheet.pairs) {
    json["circuit_coupling"].push_back(
        {{"first", pair.first}, {"second", pair.second}, {"k", pair.coupling}});
  }
  json["field"] = {{"frequency", sheet.field.frequency},
                   {"centre_peak", sheet.field.centre},
                   {"percentiles_5_50_95_peak", sheet.field.percentiles},
                   {"largest_peak", sheet.field.largest}};
  if (const auto& m = sheet.field.measured)
    json["field"]["measured"] = {{"readings", m->readings},
                                 {"misfit", m->misfit},
                                 {"largest_misfit", m->largest_misfit},
                                 {"worst_place", m->worst},
                                 {"divergence_before", m->divergence_before}};
  json["air"] = json_of(sheet.air);
  json["air"].update(air_json(sheet.air_part));
  json["tags"] = Json::array();
  for (const auto& design : sheet.designs) json["tags"].push_back(json_of(design));
  json["search_coil"] = json_of(sheet.search_coil);
  json["first_light"] = json_of(sheet.first_light);
  json["exposure"] = json_of(sheet.exposure);
  json["cautions"] = sheet.cautions;
  return json;
}

}  // namespace driftglow::sheet
