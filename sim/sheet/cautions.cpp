#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/safety/flashing.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/sheet/sheet_parts.hpp"

// Cautions, no verdict: what they do not mention is not thereby safe.
namespace driftglow::sheet {
namespace {

using Cautions = std::vector<std::string>;

// Of tags: what is said of several of them stands once, with all their names.
class TagCautions {
 public:
  void add(const std::string& who, const std::string& what) {
    const auto same =
        std::find_if(said_.begin(), said_.end(), [&](const auto& known) { return known.second == what; });
    if (same == said_.end())
      said_.emplace_back(who, what);
    else
      same->first += ", " + who;
  }

  void append_to(Cautions& cautions) const {
    for (const auto& [who, what] : said_) cautions.push_back(fmt::format("{}: {}", who, what));
  }

 private:
  std::vector<std::pair<std::string, std::string>> said_;
};

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

// Of the circuit with the highest voltage.
void caution_of_touch(const std::vector<DriveCircuit>& circuits, Cautions& cautions) {
  const auto highest = std::max_element(circuits.begin(), circuits.end(), [](const auto& a, const auto& b) {
    return a.touch.voltage_rms < b.touch.voltage_rms;
  });
  if (highest == circuits.end()) return;
  const auto& touch = highest->touch;
  for (const auto& level : touch.levels) {
    if (level.rule != safety::TouchRule::dry || touch.ratio(level) <= 1.0) continue;
    cautions.push_back(fmt::format(
        "The coil ends carry {} rms at {} (bare parts: at most {:.0f} V where it is dry, IEC 60364-4-41): "
        "cover them, they burn the skin.",
        with_prefix(touch.voltage_rms, "V"), with_prefix(highest->point.frequency, "Hz"), level.ac_rms));
  }
}

std::string range_text(const ExposureLevel& level, const Exposure& exposure) {
  if (!exposure.clearance) return "everywhere";
  return level.distance ? "up to " + with_prefix(*level.distance, "m")
                        : "beyond " + with_prefix(exposure_farthest, "m");
}

// The strictest level of each population.
void caution_of_field(const Exposure& exposure, Cautions& cautions) {
  std::string text;
  for (const auto& people : {std::pair{safety::Population::general_public, "the public"},
                             std::pair{safety::Population::occupational, "trained staff"}}) {
    const auto found = std::find_if(exposure.levels.begin(), exposure.levels.end(),
                                    [&](const auto& e) { return e.level.population == people.first; });
    if (found == exposure.levels.end() || found->level.ratio() <= 1.0) continue;
    text +=
        fmt::format("{} {} {}", text.empty() ? "" : " and for", people.second, range_text(*found, exposure));
  }
  if (text.empty()) return;
  cautions.push_back(fmt::format("The field exceeds a reference level for{}{}: keep them at a distance.",
                                 text, exposure.clearance ? " from coils and vessel" : ""));
}

void cautions_for_people(const DesignSheet& sheet, Cautions& cautions) {
  caution_of_field(sheet.exposure, cautions);
  if (sheet.exposure.inside_only)
    cautions.push_back(
        "Readings in the vessel do not tell the field outside, which is stronger near the coils: measure "
        "there "
        "before anyone comes near.");
  // The public level says nothing about devices in the body.
  cautions.push_back(
      "People with a pacemaker, insulin pump or other implant keep away from the field: put up a sign.");
  cautions.push_back(
      "Glowing tags flash as they turn; more than three flashes in a second can trigger seizures: a flight "
      "counts them.");
  caution_of_touch(sheet.circuits, cautions);
  for (const auto& circuit : sheet.circuits) {
    constexpr double hot = constant::zero_celsius + 60.0;
    for (const auto& coil : circuit.coils) {
      if (coil.copper.temperature <= hot) continue;
      cautions.push_back(fmt::format(
          "Coil {} reaches about {:.0f} degC in still air: keep it out of reach and off plastics.", coil.name,
          coil.copper.temperature - constant::zero_celsius));
    }
  }
  // Warm to the hand in still air from about this on: common practice, no source.
  constexpr double warm_metal = 1.0;  // W
  for (const auto& part : sheet.metal) {
    if (part.loss <= warm_metal) continue;
    cautions.push_back(
        fmt::format("The metal of {} takes {} and gets hot, how hot is not computed: keep it out of reach "
                    "and off plastics.",
                    part.name, with_prefix(part.loss, "W")));
  }
  const bool supplied = std::any_of(sheet.circuits.begin(), sheet.circuits.end(),
                                    [](const auto& circuit) { return circuit.point.tank.has_value(); });
  if (supplied || sheet.air.fan) {
    cautions.push_back(
        "Use certified low-voltage supplies; mains wiring is for an electrician, under the local code.");
  }
  if (sheet.air.fan) {
    cautions.push_back(
        "Guard the fan's blades on both sides, and switch it off before the vessel is opened.");
  }
  if (!sheet.exposure.radiated) return;
  const auto& fields = *sheet.exposure.radiated;
  const auto loud =
      std::find_if(fields.begin(), fields.end(), [](const auto& f) { return f.limit && f.level > *f.limit; });
  if (loud != fields.end()) {
    cautions.push_back(
        fmt::format("Radio: {:.0f} dB(uA/m) at {:.0f} m is above the {:.0f} dB(uA/m) of European short-range "
                    "devices: ask "
                    "which local rules apply.",
                    loud->level, loud->distance, *loud->limit));
  }
}

void cautions_of_circuit(const DriveCircuit& circuit, Cautions& cautions) {
  const auto& point = circuit.point;
  if (point.tank) {
    for (const auto& over : point.tank->exceeded) {
      const char* unit = over.rating == driver::Rating::capacitor_voltage ? "V" : "A";
      cautions.push_back(fmt::format("Rating exceeded: {} is {}, rated {}.", named(over.rating),
                                     with_prefix(over.value, unit), with_prefix(over.limit, unit)));
    }
  }
  for (const auto& coil : circuit.coils) {
    if (coil.copper.share() > 1.0) {
      cautions.push_back(fmt::format("Coil {} carries {} rms; in still air its enamel stands {}.", coil.name,
                                     with_prefix(coil.copper.current_rms, "A"),
                                     with_prefix(coil.copper.ampacity_rms, "A")));
    }
  }
  if (circuit.draw && circuit.draw->resonance == TagDraw::Resonance::split) {
    cautions.push_back(
        fmt::format("The tags split the resonance of circuit {}: the driver may settle at another frequency; "
                    "use fewer or "
                    "less sharp tags.",
                    circuit.name));
  }
  constexpr double noticeable = 0.02;
  if (circuit.draw &&
      circuit.draw->lit.current_peak < (1.0 - noticeable) * circuit.draw->empty.current_peak) {
    cautions.push_back(fmt::format(
        "The tags lower the coil current of circuit {} by {}: field and shares here are without them, the "
        "flight "
        "counts them.",
        circuit.name, percent(1.0 - circuit.draw->lit.current_peak / circuit.draw->empty.current_peak)));
  }
  if (circuit.small_choke) {
    cautions.push_back(fmt::format("A choke below {} raises the tank's peak beyond what is computed here.",
                                   with_prefix(*circuit.small_choke, "H")));
  }
  if (circuit.self_resonance && circuit.self_resonance->concern != coil::SelfResonance::Concern::none) {
    const auto& self = *circuit.self_resonance;
    cautions.push_back(
        self.concern == coil::SelfResonance::Concern::near_resonance
            ? fmt::format("Circuit {} resonates by itself near {}: L and R are not those computed.",
                          circuit.name, with_prefix(self.frequency, "Hz"))
            : fmt::format("The self-capacitance of circuit {} (about {}) detunes it by {}: take it off the "
                          "capacitor.",
                          circuit.name, with_prefix(circuit.self_capacitance, "F"),
                          percent(self.tank_shift)));
  }
  const auto& trust = point.resistance_trust;
  if (trust.validity == coil::ProximityValidity::close) {
    cautions.push_back(fmt::format(
        "The drive winding is close (spacing {:.2f} wire diameters): its resistance is low by up to {}.",
        trust.spacing_ratio, percent(trust.low_by_up_to)));
  }
}

void cautions_of_air(const Airflow& air, Cautions& cautions) {
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
}

void cautions_of_fit(const std::string& tag, const Fit& fit, TagCautions& cautions) {
  const std::string who = tag + " with " + fit.name;
  if (fit.share_on == 0.0) cautions.add(who, "lights nowhere in the vessel.");
  if (!fit.led) return;
  const auto& led = *fit.led;
  if (!led.point_near_threshold || (led.antiparallel && !led.antiparallel->point_near_threshold)) {
    cautions.add(who,
                 fmt::format("no data-sheet point within a factor of ten of {}, where it begins to count as "
                             "lit: measure one.",
                             with_prefix(led.on_mean_current, "A")));
  }
  std::string exceeded;
  const auto over = [&](double value, double rating, const char* what, const char* unit) {
    if (value <= rating) return;
    exceeded += fmt::format("{}{} up to {} (rated {})", exceeded.empty() ? "" : ", ", what,
                            with_prefix(value, unit), with_prefix(rating, unit));
  };
  over(led.at_largest.mean_current, led.mean_current_rating, "mean current", "A");
  over(led.at_largest.peak_current, led.peak_current_rating, "peak current", "A");
  over(led.at_largest.reverse_peak, led.reverse_voltage_rating, "reverse voltage", "V");
  if (led.antiparallel) {
    const auto& second = *led.antiparallel;
    const auto of_second = [&](const char* what) { return what + (" of the second LED, " + second.emitter); };
    over(led.at_largest.mean_current_antiparallel, second.mean_current_rating,
         of_second("mean current").c_str(), "A");
    over(led.at_largest.peak_current_antiparallel, second.peak_current_rating,
         of_second("peak current").c_str(), "A");
    over(led.at_largest.forward_peak, second.reverse_voltage_rating, of_second("reverse voltage").c_str(),
         "V");
  }
  if (exceeded.empty()) return;
  cautions.add(who, fmt::format("{}; over a rating in {} of places and directions.", exceeded,
                                percent(fit.share_over_rating)));
}

// Of the fit that leaves the tank the highest peak.
void cautions_of_capacitor(const Design& design, const Tank& tank, TagCautions& cautions) {
  if (!tank.capacitor_rated_voltage || design.fits.empty()) return;
  const auto peak = [](const Fit& fit) { return fit.led ? fit.led->at_largest.tank_peak() : 0.0; };
  const auto highest = std::max_element(design.fits.begin(), design.fits.end(),
                                        [&](const Fit& a, const Fit& b) { return peak(a) < peak(b); });
  if (peak(*highest) <= *tank.capacitor_rated_voltage) return;
  cautions.add(
      design.name + " with " + highest->name,
      fmt::format("the capacitor's peak voltage is up to {}, rated {}.", with_prefix(peak(*highest), "V"),
                  with_prefix(*tank.capacitor_rated_voltage, "V")));
}

void cautions_of_tank(const std::string& tag, const Tank& tank, TagCautions& cautions) {
  constexpr double emf_error = 0.005;  // model.md: what the EMF may be off by
  if (tank.in_flight == Tank::Neighbours::neglected && tank.neighbours && tank.neighbours->needs_caution()) {
    cautions.add(tag,
                 fmt::format("touching tags detune each other (k Q up to {:.2f}, above {}): fly also with "
                             "`flight.coupling: on`.",
                             tank.neighbours->caution_figure(), coupling::caution_coupling));
  }
  using Sharpness = receiver::SharpnessFacts::Concern;
  if (tank.sharpness.concern == Sharpness::sharp) {
    cautions.add(tag,
                 fmt::format("at Q {:.0f} the tolerances cost up to {} of the tank's voltage: trim each tag.",
                             tank.sharpness.Q,
                             percent(1.0 - tank.sharpness.worst_gain / tank.sharpness.nominal_gain)));
  } else if (tank.sharpness.concern == Sharpness::dull) {
    cautions.add(tag,
                 fmt::format("at Q {:.1f} the resonance hardly helps: take thicker wire or a larger coil.",
                             tank.sharpness.Q));
  }
  using SelfConcern = coil::SelfResonance::Concern;
  if (tank.self_resonance.concern == SelfConcern::near_resonance) {
    cautions.add(tag,
                 fmt::format("the receiver coil resonates by itself near {}: L and R are not those computed.",
                             with_prefix(tank.self_resonance.frequency, "Hz")));
  } else if (tank.self_resonance.concern == SelfConcern::shifts_tank &&
             std::fabs(tank.self_resonance.tank_shift) > 0.1 * tank.sharpness.half_bandwidth) {
    cautions.add(
        tag, fmt::format("the coil's self-capacitance (about {}) detunes the tank by {}: take it off the "
                         "capacitor.",
                         with_prefix(tank.self_capacitance, "F"), percent(tank.self_resonance.tank_shift)));
  }
  if (tank.flux_rule.error() > emf_error) {
    cautions.add(tag, fmt::format("the EMF is off by up to {} near the drive wires.",
                                  percent(tank.flux_rule.error())));
  }
  if (tank.resistance_trust.validity == coil::ProximityValidity::close &&
      tank.resistance_trust.low_by_up_to > 0.02) {
    cautions.add(tag, fmt::format("the receiver is wound close, its resistance is low by up to {}.",
                                  percent(tank.resistance_trust.low_by_up_to)));
  }
}

void cautions_of_design(const Design& design, const Airflow& air, TagCautions& cautions) {
  if (design.lift) {
    const double slowest = std::min(design.lift->terminal_speed_along, design.lift->terminal_speed_across);
    const double upward = std::max(air.axis_speed, air.mean_speed);
    if (upward < slowest) {
      cautions.add(design.name,
                   fmt::format("cannot lift; the air rises at {}, the tag falls at {} or faster.",
                               with_prefix(upward, "m/s"), with_prefix(slowest, "m/s")));
    }
  }
  for (const auto& fit : design.fits) cautions_of_fit(design.name, fit, cautions);
  if (design.tank) cautions_of_capacitor(design, *design.tank, cautions);
  if (design.tank) cautions_of_tank(design.name, *design.tank, cautions);
}

}  // namespace

std::vector<std::string> cautions_of(const DesignSheet& sheet) {
  Cautions cautions;
  cautions_for_people(sheet, cautions);
  for (const auto& circuit : sheet.circuits) cautions_of_circuit(circuit, cautions);
  for (const auto& pair : sheet.pairs) {
    if (std::fabs(pair.coupling) <= caution_circuit_coupling) continue;
    cautions.push_back(fmt::format(
        "Circuits {} and {} couple by {}: each drives the other, which is neglected; place them across each "
        "other.",
        pair.first, pair.second, percent(std::fabs(pair.coupling))));
  }
  constexpr double large_misfit = 0.05;
  if (const auto& m = sheet.field.measured; m && m->misfit > large_misfit)
    cautions.push_back(
        fmt::format("The readings of the field miss every magnetic field by {} rms{}: duties are no "
                    "better than that.",
                    percent(m->misfit), m->remedy ? ", which " + *m->remedy + " would mend" : ""));
  cautions_of_air(sheet.air, cautions);
  TagCautions tags;
  for (const auto& design : sheet.designs) cautions_of_design(design, sheet.air, tags);
  tags.append_to(cautions);
  return cautions;
}

double sensitive_share(const Flashing& flashing) {
  const double middle = std::sqrt(flight::spell_bin_start(1) / flight::spell_bin_start(0));
  std::vector<double> periods, counts;
  for (int on = 0; on < flight::spell_bins; ++on) {
    if (flashing.on_spells[on] == 0) continue;
    for (int off = 0; off < flight::spell_bins; ++off) {
      if (flashing.off_spells[off] == 0) continue;
      periods.push_back(middle * (flight::spell_bin_start(on) + flight::spell_bin_start(off)));
      counts.push_back(static_cast<double>(flashing.on_spells[on]) *
                       static_cast<double>(flashing.off_spells[off]));
    }
  }
  return safety::sensitive_flash_share(periods, counts);
}

std::optional<std::string> flash_caution(const std::string& tag, const Flashing& flashing) {
  constexpr double few = 0.01;
  const double rate = flashing.per_minute / 60.0, in_band = sensitive_share(flashing);
  if (!(rate > safety::sensitive_flash_rate_low) && !(in_band >= few)) return std::nullopt;
  return fmt::format(
      "{} flashes {:.1f} times in a second; {} of its flashes come at {:.0f} to {:.0f} in a second, which "
      "can "
      "trigger seizures: put up a sign.",
      tag, rate, percent(in_band), safety::sensitive_flash_rate_low, safety::sensitive_flash_rate_high);
}

}  // namespace driftglow::sheet
