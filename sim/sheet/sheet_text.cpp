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

// A word in pieces of at most `most` bytes, characters of several bytes whole.
std::vector<std::string> pieces(const std::string& word, std::size_t most) {
  std::vector<std::string> result(1);
  for (std::size_t i = 0; i < word.size(); ++i) {
    const bool begins = (static_cast<unsigned char>(word[i]) & 0xC0U) != 0x80U;
    if (begins && result.back().size() + 4 > most) result.emplace_back();
    result.back() += word[i];
  }
  return result;
}

// Words wrapped beside what the first line begins with; a tilde is a blank that holds together.
std::string wrapped(const std::string& begin, std::size_t indent, const std::string& text) {
  std::string result = begin;
  std::size_t used = begin.size();
  std::istringstream words(text);
  bool first = true;
  const auto put = [&](const std::string& word) {
    if (!first && used + 1 + word.size() > columns) {
      result += '\n';
      result.append(indent, ' ');
      used = indent;
      first = true;
    }
    if (!first) result += ' ', ++used;
    result += word;
    used += word.size();
    first = false;
  };
  for (std::string word; words >> word;) {
    std::replace(word.begin(), word.end(), '~', ' ');
    if (indent + word.size() <= columns) {
      put(word);
    } else {
      for (const auto& piece : pieces(word, columns - indent)) put(piece);
    }
  }
  return result + "\n";
}

// One labelled entry; a label that fills its column stands apart from the text.
std::string entry(const std::string& label, const std::string& text, std::size_t width = label_width) {
  const std::string gap = label.size() < width ? "" : " ";
  return wrapped(fmt::format("{:<{}}", label, width) + gap, width, text);
}

// A name short enough for a table; whole in the JSON.
std::string clipped(const std::string& name) {
  constexpr std::size_t longest = 24;
  return name.size() <= longest ? name : name.substr(0, longest - 3) + "...";
}

struct Row {
  std::string label;
  std::vector<std::string> cells;
};

// Left-aligned, with as many columns beside the labels as fit, the others below; a single one is wrapped.
// Rows without any content are left out.
std::string table(const std::string& corner, const std::vector<std::string>& heads, std::vector<Row> rows) {
  std::erase_if(rows, [](const Row& row) {
    return std::all_of(row.cells.begin(), row.cells.end(), [](const auto& cell) { return cell.empty(); });
  });
  rows.insert(rows.begin(), {corner, heads});
  std::size_t label = 0;
  for (auto& row : rows) {
    std::replace(row.label.begin(), row.label.end(), '~', ' ');
    label = std::max(label, row.label.size() + 2);
  }
  std::string text;
  if (heads.size() == 1) {
    for (const auto& row : rows) text += entry(row.label, row.cells[0], label);
    return text;
  }
  for (std::size_t from = 0; from < heads.size();) {
    std::vector<std::size_t> widths;
    std::size_t all = label;
    for (std::size_t to = from; to < heads.size(); ++to) {
      std::size_t width = 0;
      for (const auto& row : rows) width = std::max(width, row.cells[to].size());
      if (to > from && all + width > columns) break;
      widths.push_back(width);
      all += width + 2;
    }
    for (const auto& row : rows) {
      std::string line = fmt::format("{:<{}}", row.label, label);
      for (std::size_t i = 0; i < widths.size(); ++i)
        line += fmt::format("{:<{}}", row.cells[from + i], widths[i] + 2);
      line.erase(line.find_last_not_of(' ') + 1);
      std::replace(line.begin(), line.end(), '~', ' ');
      text += line + "\n";
    }
    from += widths.size();
  }
  return text;
}

// What is the same for several is said once, with all their names.
struct Shared {
  std::string names, text;
};
std::vector<Shared> shared(const std::vector<Shared>& each) {
  std::vector<Shared> result;
  for (const auto& one : each) {
    const auto same =
        std::find_if(result.begin(), result.end(), [&](const auto& known) { return known.text == one.text; });
    if (same == result.end())
      result.push_back(one);
    else
      same->names += ", " + one.names;
  }
  return result;
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

// The sign of a number that rounds to nothing is dropped.
std::string signed_percent(double value) {
  const double rounded = std::round(1e3 * value) / 10.0;
  return rounded == 0.0 ? "0.0~%" : fmt::format("{:+.1f}~%", rounded);
}

std::string trust_text(const coil::ResistanceTrust& trust) {
  switch (trust.validity) {
    case coil::ProximityValidity::spaced:
      return "4~%";
    case coil::ProximityValidity::solved:
      return "1~% (close, solved)";
    case coil::ProximityValidity::close:
      return fmt::format("-{} (close)", share(trust.low_by_up_to));
  }
  return "";
}

std::string lit_text(const DesignSheet& sheet) {
  std::vector<Shared> each;
  for (const auto& design : sheet.designs) {
    std::string line;
    for (const auto& fit : design.fits)
      line += fmt::format("{}{} in {}", line.empty() ? "" : ", ", fit.name, share(fit.share_on));
    each.push_back({design.name, line});
  }
  std::string text;
  for (const auto& [names, line] : shared(each))
    text += entry(text.empty() ? "  lit" : "", fmt::format("{}: {} of places and directions", names, line));
  return text;
}

std::string lift_text(const DesignSheet& sheet) {
  std::vector<Shared> each;
  for (const auto& design : sheet.designs) {
    if (!design.lift) continue;
    const double along = design.lift->terminal_speed_along, across = design.lift->terminal_speed_across;
    each.push_back({design.name, along == across ? q(along, "m/s")
                                                 : fmt::format("{} along its axis, {} across it",
                                                               q(along, "m/s"), q(across, "m/s"))});
  }
  std::string text;
  for (const auto& [names, line] : shared(each))
    text += entry(text.empty() ? "  lift" : "", fmt::format("{}: falls at {}, in still air", names, line));
  return text;
}

std::string air_text(const Airflow& air) {
  if (air.flow == 0.0) return "";
  std::string text =
      entry("  air", fmt::format("{:.4g}~m3/s, rising at {} in the mean, {} on the axis at half height",
                                 air.flow, q(air.mean_speed, "m/s"), q(air.axis_speed, "m/s")));
  if (!air.fan) return text;
  return text + entry("  fan", fmt::format("{} ({} of it carry the tags); left: {} of pressure, {} of flow",
                                           q(air.fan->pressure, "Pa"), q(air.fan->tag_pressure, "Pa"),
                                           share(air.fan->pressure_margin), share(air.fan->flow_margin)));
}

std::string air_part_text(const DesignSheet& sheet) {
  std::string text;
  for (const auto& [label, what] : air_entries(sheet.air_part, sheet.air.fan)) text += entry(label, what);
  return text;
}

std::string measured_text(const Field& field) {
  if (!field.measured) return "";
  const auto& m = *field.measured;
  return entry(
      "  readings",
      fmt::format("{} nodes; the nearest magnetic field misses them by {:.1f}~% rms, {:.0f}~% at worst "
                  "({:.0f},~{:.0f},~{:.0f}~mm); their divergence was {:.2g}~B over a spacing",
                  m.readings, 100.0 * m.misfit, 100.0 * m.largest_misfit, 1e3 * m.worst[0], 1e3 * m.worst[1],
                  1e3 * m.worst[2], m.divergence_before));
}

std::string summary_text(const DesignSheet& sheet) {
  const auto& field = sheet.field;
  return lit_text(sheet) + lift_text(sheet) + air_text(sheet.air) + air_part_text(sheet) +
         entry("  field",
               fmt::format("centre {} at {}; 5, 50, 95~% of places below {}, {}, {}", q(field.centre, "T"),
                           q(field.frequency, "Hz"), q(field.percentiles[0], "T"),
                           q(field.percentiles[1], "T"), q(field.percentiles[2], "T"))) +
         measured_text(field);
}

std::string single_text(const CapacitorAid& aid) {
  return fmt::format("{} ({})", q(aid.single.capacitors.first, "F"),
                     signed_percent(aid.single.resonance_error));
}

// Only where two capacitors come clearly nearer.
std::string pair_text(const CapacitorAid& aid) {
  const double single = std::fabs(aid.single.resonance_error), pair = std::fabs(aid.pair.resonance_error);
  constexpr double negligible = 0.001;
  if (single < negligible || pair > 0.5 * single) return "";
  return fmt::format("{} + {} ({})", q(aid.pair.capacitors.first, "F"), q(aid.pair.capacitors.second, "F"),
                     signed_percent(aid.pair.resonance_error));
}

// Rows of which each circuit is a column.
class CircuitRows {
 public:
  explicit CircuitRows(const std::vector<DriveCircuit>& circuits) : circuits_(circuits) {}

  // cell: of a DriveCircuit; empty where there is nothing to say.
  template <class Cell>
  void add(const char* label, const Cell& cell) {
    Row row{label, {}};
    for (const auto& circuit : circuits_) row.cells.push_back(cell(circuit));
    rows_.push_back(std::move(row));
  }

  std::string text() {
    std::vector<std::string> heads;
    for (const auto& circuit : circuits_) heads.push_back(clipped(circuit.name));
    return table("drive circuit", heads, std::move(rows_));
  }

 private:
  const std::vector<DriveCircuit>& circuits_;
  std::vector<Row> rows_;
};

std::string circuits_text(const std::vector<DriveCircuit>& circuits) {
  if (circuits.empty()) return "";
  using Circuit = const DriveCircuit&;
  CircuitRows rows(circuits);
  rows.add("  coil current, voltage",
           [](Circuit c) { return q(c.point.current_peak, "A") + ", " + q(c.point.coil_voltage_peak, "V"); });
  rows.add("  coil current, tags lit", [](Circuit c) {
    return c.draw ? signed_percent(c.draw->lit.current_peak / c.draw->empty.current_peak - 1.0) : "";
  });
  rows.add("  supply, no tags", [](Circuit c) {
    return c.point.tank ? q(c.point.tank->supply_current, "A") + ", " + q(c.point.tank->supply_power, "W")
                        : std::string();
  });
  rows.add("  supply, tags dark, lit", [](Circuit c) {
    return c.draw && c.draw->lit.supply_current
               ? q(*c.draw->unlit.supply_current, "A") + ", " + q(*c.draw->lit.supply_current, "A")
               : std::string();
  });
  rows.add("  tags take, dark, lit", [](Circuit c) {
    return c.draw ? q(c.draw->unlit.tag_power, "W") + ", " + q(c.draw->lit.tag_power, "W") : std::string();
  });
  rows.add("  capacitor carries", [](Circuit c) {
    return c.point.tank ? q(c.point.tank->capacitor_voltage_peak, "V") + ", " +
                              q(c.point.tank->capacitor_current_rms, "A") + " rms"
                        : std::string();
  });
  const auto range = [](double low, double high, double nominal) {
    return signed_percent(low / nominal - 1.0) + " to " + signed_percent(high / nominal - 1.0);
  };
  rows.add("  tolerances move frequency", [&](Circuit c) {
    return c.spread ? range(c.spread->frequency_low, c.spread->frequency_high, c.point.frequency) : "";
  });
  rows.add("  tolerances move current", [&](Circuit c) {
    return c.spread ? range(c.spread->current_low, c.spread->current_high, c.point.current_peak) : "";
  });
  rows.add("  lost in copper, capacitor", [](Circuit c) {
    double copper = 0.0;
    for (const double loss : c.losses.copper) copper += loss;
    return q(copper, "W") + ", " + q(c.losses.capacitor, "W");
  });
  rows.add("  lost in switches, harmonics", [](Circuit c) {
    return c.point.tank ? q(c.losses.switches, "W") + ", " + q(c.losses.harmonics, "W") : std::string();
  });
  rows.add("  L, Q, bandwidth", [](Circuit c) {
    return fmt::format("{}, {:.0f}, {}", q(c.point.L, "H"), c.point.Q(), q(c.bandwidth, "Hz"));
  });
  rows.add("  R, good to", [](Circuit c) {
    return q(c.point.resistance.total, "ohm") + ", " + trust_text(c.point.resistance_trust);
  });
  rows.add("  of it dc, skin, proximity", [](Circuit c) {
    const auto& R = c.point.resistance;
    return fmt::format("{}, {}, {}", q(R.dc, "ohm"), q(R.skin, "ohm"), q(R.proximity, "ohm"));
  });
  rows.add("  metal adds", [](Circuit c) {
    return c.reflected_inductance == 0.0 && c.reflected_resistance == 0.0
               ? std::string()
               : q(c.reflected_inductance, "H") + ", " + q(c.reflected_resistance, "ohm");
  });
  rows.add("  capacitor wanted", [](Circuit c) { return c.capacitor ? q(c.capacitor->wanted, "F") : ""; });
  rows.add("  to buy (resonance moves)",
           [](Circuit c) { return c.capacitor ? single_text(*c.capacitor) : ""; });
  rows.add("  or two", [](Circuit c) { return c.capacitor ? pair_text(*c.capacitor) : ""; });
  rows.add("  ends, if touched, rms",
           [](Circuit c) { return q(c.touch.voltage_rms, "V") + ", " + q(c.touch.contact_current, "A"); });
  return "\n" + rows.text();
}

std::string coils_text(const std::vector<DriveCircuit>& circuits) {
  std::vector<Row> rows;
  for (const auto& circuit : circuits) {
    for (const auto& coil : circuit.coils) {
      rows.push_back(
          {"  " + clipped(coil.name),
           {fmt::format("{}/{}", coil.turns, coil.layers), q(coil.wire_length, "m"), grams(coil.copper_mass),
            q(coil.resistance_dc, "ohm"), q(coil.outer_radius, "m"),
            fmt::format("{} of {}", q(coil.copper.current_rms, "A"), q(coil.copper.ampacity_rms, "A")),
            fmt::format("{:.2g}", 1e-6 * coil.copper.current_density),
            fmt::format("{:.0f}", celsius(coil.copper.temperature)),
            coil.most_turns ? fmt::format("{}", *coil.most_turns) : ""}});
    }
  }
  if (rows.empty()) return "";
  return "\n" + table("coil",
                      {"turns/layers", "wire", "mass", "R dc", "radius", "rms of limit", "A/mm2", "degC",
                       "room for"},
                      rows);
}

std::string metal_text(const std::vector<MetalPart>& metal) {
  std::string text;
  for (const auto& part : metal)
    text += fmt::format("{}{} carries {}, loses {}", text.empty() ? "" : "; ", part.name,
                        q(part.current_peak, "A"), q(part.loss, "W"));
  return text.empty() ? text : entry("metal nearby", text);
}

// Of a pair the sum of both.
double mean_current(const receiver::OperatingPoint& point) {
  return point.mean_current + point.mean_current_antiparallel;
}

// A few of the points where it matters: from dark to the largest EMF.
constexpr std::size_t glow_points = 4;
std::vector<std::string> glow_cells(const Fit::Led& led) {
  std::vector<receiver::OperatingPoint> shown;
  for (const auto& point : led.curve) {
    if (mean_current(point) > 1e-5 && point.emf_peak <= led.emf_largest) shown.push_back(point);
  }
  std::vector<std::string> cells(glow_points);
  const std::size_t count = std::min(glow_points, shown.size());
  for (std::size_t i = 0; i < count; ++i) {
    const auto& point = shown[count > 1 ? i * (shown.size() - 1) / (count - 1) : 0];
    cells[i] = fmt::format("{}: {}, {}", q(point.emf_peak, "V"), q(mean_current(point), "A"),
                           q(point.tank_peak(), "V"));
  }
  return cells;
}

std::string rating_text(const Fit& fit) {
  const double from = fit.led->over_rating_emf;
  return std::isfinite(from) ? fmt::format("{} ({} of places)", q(from, "V"), share(fit.share_over_rating))
                             : "never";
}

std::string built_text(const Fit::Led& led) {
  return led.built ? fmt::format("{} to {}", q(led.built->lowest, "V"), q(led.built->highest, "V")) : "";
}

// Each fit a column.
std::string fits_text(const std::vector<Fit>& fits) {
  std::vector<std::string> heads;
  std::vector<Row> rows;
  const auto add = [&](const std::string& label, const auto& cell) {
    Row row{label, {}};
    for (const auto& fit : fits) row.cells.push_back(cell(fit));
    rows.push_back(std::move(row));
  };
  const auto add_led = [&](const std::string& label, const auto& cell) {
    add(label, [&](const Fit& fit) { return fit.led ? cell(*fit.led) : std::string(); });
  };
  for (const auto& fit : fits) heads.push_back(clipped(fit.name));
  add("    lit from, along the axis", [](const Fit& fit) { return q(fit.on_flux_density, "T"); });
  add_led("    that is EMF, mean current",
          [](const Fit::Led& led) { return q(led.threshold_emf, "V") + ", " + q(led.on_mean_current, "A"); });
  add_led("    built tags light from", [](const Fit::Led& led) { return built_text(led); });
  add_led(fmt::format("    within {} of the nominal", per_cent(yield_band, 0)), [](const Fit::Led& led) {
    return led.built ? fmt::format("{} of them", share(led.built->share_within)) : "";
  });
  // The same for all fits of a design.
  const double largest = fits.front().led ? fits.front().led->emf_largest : 0.0;
  add_led(fmt::format("    at most ({}): mean, peak, reverse", q(largest, "V")), [](const Fit::Led& led) {
    const auto& most = led.at_largest;
    return fmt::format("{}, {}, {}", q(most.mean_current, "A"), q(most.peak_current, "A"),
                       q(most.reverse_peak, "V"));
  });
  const bool pairs = std::any_of(fits.begin(), fits.end(),
                                 [](const Fit& fit) { return fit.led && fit.led->antiparallel.has_value(); });
  const auto add_second = [&](const std::string& label, const auto& cell) {
    if (!pairs) return;
    add_led(label, [&](const Fit::Led& led) {
      return led.antiparallel ? cell(led, *led.antiparallel) : std::string();
    });
  };
  using Second = const Fit::Led::Antiparallel&;
  add_second("    the second LED: mean, peak, reverse", [](const Fit::Led& led, Second) {
    const auto& most = led.at_largest;
    return fmt::format("{}, {}, {}", q(most.mean_current_antiparallel, "A"),
                       q(most.peak_current_antiparallel, "A"), q(most.forward_peak, "V"));
  });
  add_second("    its current counts times",
             [](const Fit::Led&, Second second) { return fmt::format("{:.2g}", second.on_weight); });
  add("    over a rating from", [](const Fit& fit) { return fit.led ? rating_text(fit) : ""; });
  std::vector<std::vector<std::string>> glow;
  for (const auto& fit : fits)
    glow.push_back(fit.led ? glow_cells(*fit.led) : std::vector<std::string>(glow_points));
  for (std::size_t i = 0; i < glow_points; ++i) {
    std::size_t number = 0;
    add(i == 0 ? "    EMF: mean current, tank" : "", [&](const Fit&) { return glow[number++][i]; });
  }
  add_led("    LED: n_id, I_s, R_s", [](const Fit::Led& led) {
    return fmt::format("{:.2f}, {:.1e}~A, {}", led.parameters.ideality, led.parameters.saturation_current,
                       q(led.parameters.series_resistance, "ohm"));
  });
  add_led("    off the data sheet by", [](const Fit::Led& led) { return q(led.worst_residual, "V"); });
  add_second("    the second: n_id, I_s, R_s", [](const Fit::Led&, Second second) {
    return fmt::format("{:.2f}, {:.1e}~A, {}", second.parameters.ideality,
                       second.parameters.saturation_current, q(second.parameters.series_resistance, "ohm"));
  });
  add_second("    off the data sheet by",
             [](const Fit::Led&, Second second) { return q(second.worst_residual, "V"); });
  return table("  with", heads, std::move(rows));
}

std::string tank_text(const Tank& tank) {
  std::string text = entry(
      "  receiver",
      fmt::format("{} turns in {} {}: wire {}, {}, {} dc{}; L {}, R {}, good to {}; turns x area {:.1f}~cm2, "
                  "EMF good to {}",
                  tank.winding.turns, tank.winding.layers, tank.winding.layers == 1 ? "layer" : "layers",
                  q(tank.wire_length, "m"), grams(tank.copper_mass), q(tank.bench.resistance_dc, "ohm"),
                  tank.most_turns ? fmt::format(", room for {} turns", *tank.most_turns) : "",
                  q(tank.inductance, "H"), q(tank.resistance, "ohm"), trust_text(tank.resistance_trust),
                  1e4 * tank.area_turns, per_cent(tank.flux_rule.error(), 2)));
  std::string tuned = fmt::format("resonance {} ({} off the drive), Q {:.1f}, bandwidth {}",
                                  q(tank.resonance_frequency, "Hz"), signed_percent(tank.detuning),
                                  tank.sharpness.Q, q(tank.bandwidth, "Hz"));
  const double lost = 1.0 - tank.sharpness.worst_gain / tank.sharpness.nominal_gain;
  if (lost > 0.0) tuned += fmt::format("; the tolerances cost up to {} of its voltage", share(lost));
  if (tank.capacitor) {
    const std::string pair = pair_text(*tank.capacitor);
    tuned += fmt::format("; {} would tune it: buy {}{}", q(tank.capacitor->wanted, "F"),
                         single_text(*tank.capacitor), pair.empty() ? "" : " or " + pair);
  }
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
  std::string mass = fmt::format("{} of {}", design.count, grams(design.mass));
  for (const auto& part : design.parts)
    mass += fmt::format("{} {} {}", &part == &design.parts.front() ? ":" : ",", part.name, grams(part.mass));
  return entry("  number, mass", mass) + (design.tank ? tank_text(*design.tank) : "") +
         fits_text(design.fits);
}

std::string designs_text(const DesignSheet& sheet) {
  std::vector<Shared> each;
  for (const auto& design : sheet.designs) each.push_back({design.name, design_text(design)});
  std::string text;
  for (const auto& [names, part] : shared(each)) text += "\n" + wrapped("tag ", 4, names) + part;
  return text;
}

std::string meters_text(const DesignSheet& sheet) {
  std::vector<Row> rows;
  const auto add = [&](const std::string& name, const BenchWinding& bench) {
    Row row{"  " + clipped(name), {}};
    for (const auto& reading : bench.readings)
      row.cells.push_back(q(reading.inductance, "H") + ", " + q(reading.resistance, "ohm"));
    row.cells.push_back(q(bench.resistance_dc, "ohm"));
    rows.push_back(std::move(row));
  };
  for (const auto& circuit : sheet.circuits) add(circuit.name, circuit.bench);
  std::vector<Shared> tags;
  for (const auto& design : sheet.designs) {
    if (!design.tank) continue;
    add(design.name, design.tank->bench);
    // Tags of one winding fill one row.
    const auto same = std::find_if(rows.begin(), rows.end() - 1,
                                   [&](const Row& row) { return row.cells == rows.back().cells; });
    if (same == rows.end() - 1) continue;
    same->label = clipped(same->label.substr(2) + ", " + design.name).insert(0, "  ");
    rows.pop_back();
  }
  if (rows.empty()) return "";
  std::vector<std::string> heads;
  for (const double frequency : bench_frequencies)
    heads.push_back(fmt::format("at {:.0f} kHz", 1e-3 * frequency));
  heads.push_back("dc");
  return table("  L and R", heads, rows);
}

std::string first_light_text(const std::vector<FirstLight>& lights) {
  std::string text;
  std::vector<Shared> each;
  for (auto light = lights.begin(); light != lights.end();) {
    std::string line;
    const std::string tag = light->tag;
    for (; light != lights.end() && light->tag == tag; ++light)
      line += fmt::format("{}{} {}", line.empty() ? "" : ", ", light->fit,
                          light->distance ? q(*light->distance, "m") : "nowhere");
    each.push_back({tag, line});
  }
  for (const auto& [names, line] : shared(each))
    text += fmt::format("{}{}: {}", text.empty() ? "" : "; ", names, line);
  if (text.empty()) return text;
  return entry("  first light",
               fmt::format("outward from coil {}, on and along its axis: {}", lights.front().coil, text));
}

std::string bench_text(const DesignSheet& sheet) {
  std::string coil =
      fmt::format("one turn of {} diameter, turned for the most, rms:", q(search_coil_diameter, "m"));
  for (const auto& reading : sheet.search_coil)
    coil += fmt::format(" {} {}{}", reading.place, q(reading.voltage_rms, "V"),
                        &reading == &sheet.search_coil.back() ? "" : ",");
  return "\nbench readings to expect\n" + meters_text(sheet) + entry("  search coil", coil) +
         first_light_text(sheet.first_light);
}

std::string distance_text(const ExposureLevel& level, const Exposure& exposure) {
  if (!exposure.clearance) return "";
  if (!level.distance) return "above it everywhere near";
  return *level.distance <= *exposure.clearance ? "below it all around"
                                                : fmt::format("below it from {} on", q(*level.distance, "m"));
}

std::string exposure_text(const DesignSheet& sheet) {
  const auto& exposure = sheet.exposure;
  std::string text = "\nexposure (computed beside published levels; no verdict of safety)\n";
  text += entry("  field", fmt::format("{} rms {}", q(exposure.flux_density_rms, "T"),
                                       exposure.clearance ? "at most, " + q(*exposure.clearance, "m") +
                                                                " from coils and vessel, all around"
                                       : exposure.inside_only ? "at most in the vessel; not known outside"
                                                              : "everywhere"));
  for (const auto& level : exposure.levels) {
    const std::string beyond = distance_text(level, exposure);
    text += entry(
        "",
        fmt::format("{:.2f} times {} rms (ICNIRP {}, {}){}", level.level.ratio(), q(level.level.level, "T"),
                    level.level.guideline == safety::Guideline::icnirp_2010 ? "2010" : "2020",
                    level.level.population == safety::Population::general_public ? "public" : "at work",
                    beyond.empty() ? "" : ", " + beyond));
  }
  if (exposure.radiated) {
    std::string radio;
    for (const auto& field : *exposure.radiated) {
      radio += fmt::format("{}{:.0f} at {:.0f}~m{}", radio.empty() ? "" : ", ", field.level, field.distance,
                           field.limit ? fmt::format(" (limit {:.0f})", *field.limit) : "");
    }
    text += entry("  radio", radio + " dB(uA/m), beside Europe's limit for short-range devices");
  }
  if (sheet.circuits.empty()) return text;
  const auto& touch = sheet.circuits.front().touch;
  std::string levels = "coil ends above; bare parts at most, rms:";
  for (const auto& level : touch.levels)
    levels += fmt::format(" {} {:.0f}~V,", name(level.rule), level.ac_rms);
  return text +
         entry("  touch", levels + fmt::format(" {} through a body", q(touch.contact_current_level, "A")));
}

}  // namespace

std::string sheet_text(const DesignSheet& sheet) {
  std::string title = sheet.title;
  std::replace(title.begin(), title.end(), '~', '-');
  std::string text = wrapped("", 0, title + ": design sheet");
  text += "\nin short (peak values unless rms or mean is said)\n" + summary_text(sheet) +
          "\ncautions (estimates; local rules decide)\n";
  for (const auto& caution : sheet.cautions) text += wrapped("  - ", 4, caution);
  return text + circuits_text(sheet.circuits) + coils_text(sheet.circuits) + metal_text(sheet.metal) +
         designs_text(sheet) + bench_text(sheet) + exposure_text(sheet);
}

}  // namespace driftglow::sheet
