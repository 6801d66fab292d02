#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "models/constants.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

constexpr std::size_t columns = 100, label_width = 18;

// Words wrapped beside what the first line begins with.
std::string wrapped(const std::string& begin, std::size_t indent, const std::string& text) {
  std::string result = begin;
  std::size_t used = begin.size();
  std::istringstream words(text);
  bool first = true;
  for (std::string word; words >> word; first = false) {
    std::replace(word.begin(), word.end(), '~', ' ');
    if (!first && used + 1 + word.size() > columns) {
      result += '\n';
      result.append(indent, ' ');
      used = indent;
      first = true;
    }
    if (!first) result += ' ', ++used;
    result += word;
    used += word.size();
  }
  return result + "\n";
}

// One labelled entry; a label that fills its column stands apart from the text.
std::string entry(const std::string& label, const std::string& text) {
  const std::string gap = label.size() < label_width ? "" : " ";
  return wrapped(fmt::format("{:<{}}", label, label_width) + gap, label_width, text);
}

std::string caution_entry(const std::string& text) {
  return wrapped("  - ", 4, text);
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

std::string grams(double kilograms) {
  return q(1e3 * kilograms, "g");
}

double celsius(double kelvin) {
  return kelvin - constant::zero_celsius;
}

std::string per_cent(double value, int decimals) {
  return fmt::format("{:.{}f}~%", 100.0 * value, decimals);
}

std::string signed_percent(double value) {
  return fmt::format("{:+.1f}~%", 100.0 * value);
}

std::string layers_text(double turns, int layers) {
  return fmt::format("{} turns in {} {}", turns, layers, layers == 1 ? "layer" : "layers");
}

std::string trust_text(const coil::ResistanceTrust& trust) {
  switch (trust.validity) {
    case coil::ProximityValidity::spaced:
      return "good to 4~%";
    case coil::ProximityValidity::solved:
      return "close winding, solved, good to about 1~%";
    case coil::ProximityValidity::close:
      return fmt::format("close winding, low by up to {}", share(trust.low_by_up_to));
  }
  return "";
}

std::string lit_text(const DesignSheet& sheet) {
  std::string text;
  for (const auto& design : sheet.designs) {
    std::string line = design.name + ":";
    for (const auto& fit : design.fits) {
      line +=
          fmt::format("{} {} in {}", &fit == &design.fits.front() ? "" : ",", fit.name, share(fit.share_on));
    }
    text += entry(&design == &sheet.designs.front() ? "  lit" : "", line + " of places and directions");
  }
  return text;
}

std::string lift_text(const DesignSheet& sheet) {
  std::string text;
  for (const auto& design : sheet.designs) {
    if (!design.lift) continue;
    const auto [low, high] =
        std::minmax(design.lift->terminal_speed_along, design.lift->terminal_speed_across);
    text += entry(text.empty() ? "  lift" : "",
                  low == high ? fmt::format("{} falls at {} in still air", design.name, q(low, "m/s"))
                              : fmt::format("{} falls at {} along its axis, {} across it, in still air",
                                            design.name, q(design.lift->terminal_speed_along, "m/s"),
                                            q(design.lift->terminal_speed_across, "m/s")));
  }
  return text;
}

std::string air_text(const Airflow& air) {
  if (air.flow == 0.0) return "";
  std::string text =
      entry("  air", fmt::format("{:.4g}~m3/s, rising at {} in the mean, {} on the axis at half height",
                                 air.flow, q(air.mean_speed, "m/s"), q(air.axis_speed, "m/s")));
  if (!air.fan) return text;
  return text +
         entry("  fan", fmt::format("{} ({} of it carry the tags); left: {} of its pressure, {} of its flow",
                                    q(air.fan->pressure, "Pa"), q(air.fan->tag_pressure, "Pa"),
                                    share(air.fan->pressure_margin), share(air.fan->flow_margin)));
}

std::string air_part_text(const DesignSheet& sheet) {
  std::string text;
  for (const auto& [label, what] : air_entries(sheet.air_part, sheet.air.fan)) text += entry(label, what);
  return text;
}

std::string summary_text(const DesignSheet& sheet) {
  const auto& field = sheet.field;
  return lit_text(sheet) + lift_text(sheet) + air_text(sheet.air) + air_part_text(sheet) +
         entry("  field",
               fmt::format("{} at {}, centre of the vessel; 5, 50, 95~% of the tags' room lie below "
                           "{}, {}, {}",
                           q(field.centre, "T"), q(field.frequency, "Hz"), q(field.percentiles[0], "T"),
                           q(field.percentiles[1], "T"), q(field.percentiles[2], "T")));
}

std::string draw_text(const TagDraw& draw) {
  if (!draw.lit.supply_current) {
    return fmt::format("draw {} in all while dark, {} lit", q(draw.unlit.tag_power, "W"),
                       q(draw.lit.tag_power, "W"));
  }
  return fmt::format("draw {} in all while dark, {} lit; supply then {} or {} (coil current {} lit)",
                     q(draw.unlit.tag_power, "W"), q(draw.lit.tag_power, "W"),
                     q(*draw.unlit.supply_current, "A"), q(*draw.lit.supply_current, "A"),
                     signed_percent(draw.lit.current_peak / draw.empty.current_peak - 1.0));
}

std::string losses_text(const driver::Losses& losses) {
  double copper = 0.0;
  for (const double loss : losses.copper) copper += loss;
  std::string text = "copper " + q(copper, "W");
  const auto add = [&](const char* what, double watts) {
    if (watts > 0.0) text += fmt::format(", {} {}", what, q(watts, "W"));
  };
  add("capacitor", losses.capacitor);
  add("switches and chokes", losses.switches);
  add("harmonics", losses.harmonics);
  return text;
}

std::string circuit_text(const DriveCircuit& circuit) {
  const auto& point = circuit.point;
  const auto& R = point.resistance;
  std::string text = fmt::format("\ndrive circuit {}\n", circuit.name);
  std::string driver = fmt::format("{} in the coils, {} across them", q(point.current_peak, "A"),
                                   q(point.coil_voltage_peak, "V"));
  if (point.tank) {
    driver +=
        fmt::format("; supply {}, {} without tags; capacitor {} and {} rms",
                    q(point.tank->supply_current, "A"), q(point.tank->supply_power, "W"),
                    q(point.tank->capacitor_voltage_peak, "V"), q(point.tank->capacitor_current_rms, "A"));
  }
  text += entry("  driver", driver);
  if (circuit.spread) {
    text += entry("  tolerances",
                  fmt::format("{} to {}, {} to {} in the coils", q(circuit.spread->frequency_low, "Hz"),
                              q(circuit.spread->frequency_high, "Hz"), q(circuit.spread->current_low, "A"),
                              q(circuit.spread->current_high, "A")));
  }
  if (circuit.draw) text += entry("  tags", draw_text(*circuit.draw));
  text += entry("  losses", losses_text(circuit.losses));
  text +=
      entry("  coils", fmt::format("L {}, R {} (dc {}, skin {}, proximity {}; {}), Q {:.0f}, bandwidth {}",
                                   q(point.L, "H"), q(R.total, "ohm"), q(R.dc, "ohm"), q(R.skin, "ohm"),
                                   q(R.proximity, "ohm"), trust_text(point.resistance_trust), point.Q(),
                                   q(circuit.bandwidth, "Hz")));
  for (const auto& coil : circuit.coils) {
    text +=
        entry("", fmt::format("{}: {} rms of {} that it stands, {:.2g}~A/mm2, {:.0f}~degC in still air",
                              coil.name, q(coil.copper.current_rms, "A"), q(coil.copper.ampacity_rms, "A"),
                              1e-6 * coil.copper.current_density, celsius(coil.copper.temperature)));
  }
  return text;
}

std::string metal_text(const DesignSheet& sheet) {
  std::string text;
  for (const auto& part : sheet.metal)
    text += fmt::format("{}{} carries {}, loses {}", text.empty() ? "" : "; ", part.name,
                        q(part.current_peak, "A"), q(part.loss, "W"));
  if (text.empty()) return text;
  for (const auto& circuit : sheet.circuits) {
    text += fmt::format("; adds {} and {} to circuit {}", q(circuit.reflected_inductance, "H"),
                        q(circuit.reflected_resistance, "ohm"), circuit.name);
  }
  return "\n" + entry("metal nearby", text);
}

std::string glow_text(const Fit::Led& led) {
  // A few of the points where it matters: from dark to the largest EMF.
  std::vector<receiver::OperatingPoint> shown;
  for (const auto& point : led.curve) {
    if (point.mean_current > 1e-5 && point.emf_peak <= led.emf_largest) shown.push_back(point);
  }
  constexpr std::size_t most_shown = 5;
  const std::size_t count = std::min(most_shown, shown.size());
  if (count == 0) return "";
  std::string text = "glow (EMF: mean current, tank):";
  for (std::size_t i = 0; i < count; ++i) {
    const auto& point = shown[count > 1 ? i * (shown.size() - 1) / (count - 1) : 0];
    text += fmt::format(" {}:~{},~{}{}", q(point.emf_peak, "V"), q(point.mean_current, "A"),
                        q(point.tank_peak(), "V"), i + 1 < count ? ";" : "");
  }
  return entry("", text);
}

std::string fit_text(const Fit& fit) {
  std::string lit = fmt::format("lit from {} along the axis", q(fit.on_flux_density, "T"));
  if (!fit.led) return entry("  threshold", lit);
  lit = fit.name + ": " + lit;
  const auto& led = *fit.led;
  lit += fmt::format(", EMF {}, mean current {}", q(led.threshold_emf, "V"), q(led.on_mean_current, "A"));
  if (led.built) {
    lit += fmt::format("; built tags from {} to {}, {} of them within {} of that", q(led.built->lowest, "V"),
                       q(led.built->highest, "V"), share(led.built->share_within), per_cent(yield_band, 0));
  }
  const auto& most = led.at_largest;
  const std::string rating = std::isfinite(led.over_rating_emf)
                                 ? fmt::format("over a rating from {} ({} of places)",
                                               q(led.over_rating_emf, "V"), share(fit.share_over_rating))
                                 : "never over a rating";
  return entry("  LED", lit) +
         entry("", fmt::format("at the largest EMF, {}: {} mean, {} peak, {} reverse; {}",
                               q(led.emf_largest, "V"), q(most.mean_current, "A"), q(most.peak_current, "A"),
                               q(most.reverse_peak, "V"), rating)) +
         glow_text(led) +
         entry("", fmt::format("fitted n_id {:.2f}, I_s {:.2e}~A, R_s {}, off the data sheet by {} at most",
                               led.parameters.ideality, led.parameters.saturation_current,
                               q(led.parameters.series_resistance, "ohm"), q(led.worst_residual, "V")));
}

std::string tank_text(const Tank& tank) {
  std::string text =
      entry("  receiver",
            fmt::format("L {}, R {} ({}), turns x area {:.1f}~cm2, EMF good to {}", q(tank.inductance, "H"),
                        q(tank.resistance, "ohm"), trust_text(tank.resistance_trust), 1e4 * tank.area_turns,
                        per_cent(tank.flux_rule.error(), 2)));
  std::string tuned = fmt::format("resonance {} ({} off the drive), Q {:.1f}, bandwidth {}",
                                  q(tank.resonance_frequency, "Hz"), signed_percent(tank.detuning),
                                  tank.sharpness.Q, q(tank.bandwidth, "Hz"));
  const double lost = 1.0 - tank.sharpness.worst_gain / tank.sharpness.nominal_gain;
  if (lost > 0.0) tuned += fmt::format("; the tolerances cost up to {} of its voltage", share(lost));
  text += entry("  tank", tuned);
  if (tank.neighbours) {
    const auto& n = *tank.neighbours;
    text += entry(
        "  neighbours",
        fmt::format("k Q {:.2f} at worst when touching, {:.2f} in the mean (rms) of directions; {:.3f} "
                    "at {}, the mean distance to the nearest",
                    n.caution_figure(), n.contact_rms * n.Q, n.mean_rms * n.Q, q(n.mean_distance, "m")));
  }
  return text;
}

std::string design_text(const Design& design) {
  std::string text = fmt::format("\ntag {}\n", design.name);
  std::string mass = fmt::format("{} of {}", design.count, grams(design.mass));
  for (const auto& part : design.parts)
    mass += fmt::format("{} {} {}", &part == &design.parts.front() ? ":" : ",", part.name, grams(part.mass));
  text += entry("  tags", mass);
  if (design.tank) text += tank_text(*design.tank);
  for (const auto& fit : design.fits) text += fit_text(fit);
  return text;
}

std::string meter_text(const BenchWinding& bench) {
  std::string text = "at";
  for (const auto& reading : bench.readings) {
    text += fmt::format("{} {}: {}, {}", &reading == &bench.readings.front() ? "" : ";",
                        fmt::format("{:.0f}~kHz", 1e-3 * reading.frequency), q(reading.inductance, "H"),
                        q(reading.resistance, "ohm"));
  }
  return text + fmt::format("; dc {}", q(bench.resistance_dc, "ohm"));
}

std::string bench_text(const DesignSheet& sheet) {
  std::string text = "\nbench readings to expect\n";
  for (const auto& circuit : sheet.circuits)
    text += entry("  L and R, drive", circuit.name + " " + meter_text(circuit.bench));
  for (const auto& design : sheet.designs) {
    if (design.tank) text += entry("  L and R, tag", design.name + " " + meter_text(design.tank->bench));
  }
  std::string coil =
      fmt::format("one turn of {} diameter, turned for the most, rms:", q(search_coil_diameter, "m"));
  for (const auto& reading : sheet.search_coil) {
    coil += fmt::format(" {} {}{}", q(reading.voltage_rms, "V"), reading.place,
                        &reading == &sheet.search_coil.back() ? "" : ";");
  }
  text += entry("  search coil", coil);
  for (const auto& light : sheet.first_light) {
    text += entry(&light == &sheet.first_light.front() ? "  first light" : "",
                  light.distance ? fmt::format("{} with {}: {} outward from coil {}, on and along its axis",
                                               light.tag, light.fit, q(*light.distance, "m"), light.coil)
                                 : fmt::format("{} with {}: nowhere outward from coil {}", light.tag,
                                               light.fit, light.coil));
  }
  return text;
}

std::string aid_text(const CapacitorAid& aid) {
  std::string text =
      fmt::format("{} wanted; E12: {}", q(aid.wanted, "F"), q(aid.single.capacitors.first, "F"));
  const double single = std::fabs(aid.single.resonance_error), pair = std::fabs(aid.pair.resonance_error);
  constexpr double negligible = 0.001;
  if (single < negligible) return text;
  text += fmt::format(" (resonance {})", signed_percent(aid.single.resonance_error));
  if (pair > 0.5 * single) return text;
  return text + fmt::format(", or {} + {} ({})", q(aid.pair.capacitors.first, "F"),
                            q(aid.pair.capacitors.second, "F"), signed_percent(aid.pair.resonance_error));
}

std::string wire_text(double length, double mass, double resistance) {
  return fmt::format("wire {}, {}, {} dc", q(length, "m"), grams(mass), q(resistance, "ohm"));
}

std::string winding_text(const DesignSheet& sheet) {
  std::string text;
  for (const auto& circuit : sheet.circuits) {
    for (const auto& coil : circuit.coils) {
      text += entry("  coil " + coil.name,
                    fmt::format("{}: {}, outer radius {}{}", layers_text(coil.turns, coil.layers),
                                wire_text(coil.wire_length, coil.copper_mass, coil.resistance_dc),
                                q(coil.outer_radius, "m"),
                                coil.most_turns ? fmt::format("; room for {} turns", *coil.most_turns) : ""));
    }
    if (circuit.capacitor)
      text += entry("  drive capacitor", circuit.name + ": " + aid_text(*circuit.capacitor));
  }
  for (const auto& design : sheet.designs) {
    if (!design.tank) continue;
    const auto& tank = *design.tank;
    text += entry("  tag " + design.name,
                  fmt::format("{}: {}{}", layers_text(tank.winding.turns, tank.winding.layers),
                              wire_text(tank.wire_length, tank.copper_mass, tank.bench.resistance_dc),
                              tank.most_turns ? fmt::format("; room for {} turns", *tank.most_turns) : ""));
    if (tank.capacitor) text += entry("  tag capacitor", aid_text(*tank.capacitor));
  }
  return text.empty() ? text : "\nwinding and tuning\n" + text;
}

std::string exposure_text(const Exposure& exposure) {
  std::string text = "\nexposure (computed beside published levels; no verdict of safety)\n";
  text += entry("  field", fmt::format("{} rms {}", q(exposure.flux_density_rms, "T"),
                                       exposure.clearance ? "at most, " + q(*exposure.clearance, "m") +
                                                                " from coils and vessel, all around"
                                                          : "everywhere"));
  for (const auto& [level, distance] : exposure.levels) {
    const std::string beyond = !exposure.clearance ? ""
                               : !distance         ? ", above it everywhere near"
                               : *distance <= *exposure.clearance
                                   ? ", below it all around"
                                   : fmt::format(", below it from {} on", q(*distance, "m"));
    text +=
        entry("", fmt::format("{:.2f} times {} rms (ICNIRP {}, {}){}", level.ratio(), q(level.level, "T"),
                              level.guideline == safety::Guideline::icnirp_2010 ? "2010" : "2020",
                              level.population == safety::Population::general_public ? "public" : "at work",
                              beyond));
  }
  if (exposure.radiated) {
    std::string radio;
    for (const auto& field : *exposure.radiated) {
      radio += fmt::format("{}{:.0f} at {:.0f}~m{}", radio.empty() ? "" : ", ", field.level, field.distance,
                           field.limit ? fmt::format(" (limit {:.0f})", *field.limit) : "");
    }
    text += entry("  radio", radio + " dB(uA/m), beside Europe's limit for short-range devices");
  }
  return text;
}

std::string touch_text(const DriveCircuit& circuit) {
  const auto& touch = circuit.touch;
  std::string text = fmt::format("ends of {} {} rms; levels", circuit.name, q(touch.voltage_rms, "V"));
  for (const auto& level : touch.levels)
    text += fmt::format("{} {} {:.0f}~V", &level == &touch.levels.front() ? "" : ",", name(level.rule),
                        level.ac_rms);
  return entry("  touch",
               text + fmt::format("; {} rms through a body, level {}", q(touch.contact_current, "A"),
                                  q(touch.contact_current_level, "A")));
}

}  // namespace

std::string sheet_text(const DesignSheet& sheet) {
  std::string text = sheet.title + ": design sheet (peak values unless rms or mean is said)\n\nin short\n";
  text += summary_text(sheet) + "\ncautions (estimates; local rules decide)\n";
  for (const auto& caution : sheet.cautions) text += caution_entry(caution);
  for (const auto& circuit : sheet.circuits) text += circuit_text(circuit);
  text += metal_text(sheet);
  for (const auto& design : sheet.designs) text += design_text(design);
  text += bench_text(sheet) + winding_text(sheet) + exposure_text(sheet.exposure);
  for (const auto& circuit : sheet.circuits) text += touch_text(circuit);
  return text;
}

}  // namespace driftglow::sheet
