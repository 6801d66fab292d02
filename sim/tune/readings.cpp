#include "sim/tune/readings.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "models/error.hpp"
#include "sim/scenario/check.hpp"
#include "sim/scenario/fit_name.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/reading.hpp"

namespace driftglow::tune {
namespace {

using scenario::Block;
using scenario::Faults;
using scenario::KeyType;
using scenario::quote;

struct QuantityFacts {
  std::string_view name, unit;
  // Whether a percentage is of its own unit and not of its value.
  bool share, simulated;
  // Which of the keys that say where and how it was read it takes.
  std::vector<std::string_view> takes;
};

const QuantityFacts& facts(Quantity quantity) {
  static const QuantityFacts table[quantities] = {
      {"resonance", "Hz", false, false, {"tag", "fit", "tags_measured", "circuit"}},
      {"bandwidth", "Hz", false, false, {"tag", "fit", "tags_measured", "circuit"}},
      {"inductance", "H", false, false, {"at", "tag", "tags_measured", "circuit", "coil"}},
      {"resistance", "ohm", false, false, {"at", "tag", "tags_measured", "circuit", "coil"}},
      {"search_coil_voltage", "V", false, false, {"place", "axis", "turns", "area"}},
      {"first_light_distance", "m", false, false, {"tag", "fit", "tags_measured", "coil", "place", "axis"}},
      {"first_light_supply", "V", false, false, {"tag", "fit", "tags_measured", "place", "axis"}},
      {"supply_current", "A", false, false, {"circuit", "tags_inside"}},
      {"air_speed", "m/s", false, false, {"place", "axis"}},
      {"terminal_speed", "m/s", false, false, {"tag", "falls"}},
      {"hover_height", "m", false, false, {"tag", "falls", "place"}},
      {"duty", "1", true, true, {"tag", "fit"}},
      {"flashes_per_second", "1/s", false, true, {"tag", "fit"}},
      {"stuck_share", "1", true, true, {"tag"}},
  };
  return table[static_cast<int>(quantity)];
}

constexpr std::string_view settings[] = {"tag",   "tags_measured", "fit",  "circuit", "coil",
                                         "at",    "place",         "axis", "turns",   "area",
                                         "falls", "tags_inside"};

bool takes(Quantity quantity, std::string_view key) {
  const auto& known = facts(quantity).takes;
  return std::find(known.begin(), known.end(), key) != known.end();
}

std::string ticked(const std::vector<std::string>& names) {
  return fmt::format("`{}`", fmt::join(names, "`, `"));
}

// A key of the scenario that holds the tolerance of another.
struct OwnTolerance {
  std::string_view of, key;  // paths of the key table
};
constexpr OwnTolerance own_tolerances[] = {
    {"drive.driver.capacitor", "drive.driver.tolerances.capacitance"},
    {"tags[].receiver.capacitor", "tags[].receiver.tolerances.capacitance"},
};

class Binder {
 public:
  Binder(const Block& root, const scenario::Node& node, Faults& faults, Readings& result)
      : root_(root), root_node_(node), faults_(faults), result_(result) {}

  void run() {
    result_.title = root_.text("title");
    if (result_.title.empty()) result_.title = result_.name;
    if (base().tuned)
      faults_.add(
          root_.place(), "",
          fmt::format(
              "the scenario was tuned by {} already; expected the one before that, and all readings in "
              "one file",
              quote(base().tuned->readings)));
    for (const Block* block : root_.blocks("unknowns")) unknown(*block);
    if (const Block* flights = root_.block("flights"))
      result_.replicates = static_cast<int>(flights->count("replicates"));
    for (const Block* block : root_.blocks("readings")) reading(*block);
  }

 private:
  const scenario::Scenario& base() const { return result_.base; }
  const scenario::CoilDrive* coils() const { return std::get_if<scenario::CoilDrive>(&base().drive); }

  void fault(const Block& block, std::string_view key, const std::string& sentence) {
    faults_.add(block.given(key) ? block.place(key) : block.place(), block.path(key), sentence);
  }

  void unknown(const Block& block) {
    const std::string path = block.text("key");
    if (path.empty()) return;
    const auto found = scenario::find_key(*result_.base_root, path);
    if (const auto* what = std::get_if<std::string>(&found))
      return fault(block, "key", fmt::format("{} {}", quote(path), *what));
    const auto& place = std::get<scenario::KeyPlace>(found);
    for (const auto& [line, other] : taken_)
      if (other == place.steps)
        return fault(block, "key",
                     fmt::format("{} stands on line {} already; expected another key", quote(path), line));
    taken_.emplace_back(block.place("key").line, place.steps);
    const auto type = place.key->type;
    if (type != KeyType::quantity && type != KeyType::number && type != KeyType::fraction &&
        type != KeyType::wire && type != KeyType::place)
      return fault(block, "key",
                   fmt::format("{} holds no number that can be a little more or less; expected a key such as "
                               "`drive.driver.capacitor`",
                               quote(path)));
    const scenario::Node* node = scenario::node_at(*result_.base_root, place);
    if (node == nullptr)
      return fault(block, "key",
                   fmt::format("{} is left out of the scenario; expected one that stands there, so write its "
                               "value into the scenario first",
                               quote(path)));
    const auto value = scenario::number_and_unit(node->scalar);
    const auto per = value ? scenario::si_per(*place.key, value->unit) : std::nullopt;
    if (!per)
      return fault(block, "key",
                   fmt::format("{} is {} in the scenario; expected a number with its unit there", quote(path),
                               quote(node->scalar)));
    const auto in_unit = [&](std::string_view bound) {
      const double zero =
          std::get<double>(scenario::parse_value(*place.key, scenario::written(0.0, value->unit)));
      return (scenario::table_number(*place.key, bound) - zero) / *per;
    };
    Unknown unknown{
        place,       value->unit, value->number, 0.0, in_unit(place.key->least), in_unit(place.key->most),
        std::nullopt};
    if (!tolerance(block, unknown)) return;
    if (!scenario::with_value_in_text(base().text, result_.base_root, place, node->scalar))
      return fault(
          block, "key",
          fmt::format("{} is shared by an alias or written over several lines; expected it on one line "
                      "by itself, so that it can be changed alone",
                      quote(path)));
    result_.unknowns.push_back(std::move(unknown));
  }

  // In the unknown's unit.
  bool tolerance(const Block& block, Unknown& unknown) {
    if (!block.given("tolerance")) return scenario_tolerance(block, unknown);
    const std::string text = block.text("tolerance");
    const auto read = difference(text, *unknown.place.key, unknown.unit, unknown.value,
                                 unknown.place.key->type == KeyType::fraction);
    if (!read || !(*read > 0.0)) {
      fault(block, "tolerance",
            fmt::format("value {} is no tolerance of a value in {}; expected one above 0 such as `5 %` or {}",
                        quote(text), unknown.unit.empty() ? "no unit" : unknown.unit,
                        quote(scenario::written(std::fabs(unknown.value) * 0.05, unknown.unit))));
      return false;
    }
    unknown.tolerance = *read;
    return true;
  }

  bool scenario_tolerance(const Block& block, Unknown& unknown) {
    for (const auto& own : own_tolerances) {
      if (unknown.place.key->path != own.of) continue;
      const std::string& path = unknown.place.path;
      const auto stem = path.substr(0, path.rfind('.'));
      const auto found =
          scenario::find_key(*result_.base_root, stem + std::string(own.key.substr(own.of.rfind('.'))));
      const auto* place = std::get_if<scenario::KeyPlace>(&found);
      const scenario::Node* node = place ? scenario::node_at(*result_.base_root, *place) : nullptr;
      const auto share =
          node ? scenario::parse_fraction(node->scalar) : std::variant<double, scenario::Unreadable>(0.0);
      if (const double* value = std::get_if<double>(&share); value && *value > 0.0) {
        unknown.tolerance = *value * std::fabs(unknown.value);
        unknown.own_tolerance = *place;
        return true;
      }
    }
    fault(
        block, "tolerance",
        fmt::format("is left out, and the scenario has no tolerance for {}; expected one such as `5 %` or {}",
                    quote(unknown.place.path),
                    quote(scenario::written(std::fabs(unknown.value) * 0.05, unknown.unit))));
    return false;
  }

  // A difference in `unit` of a key: a percentage of `value`, of a share in points, or with a unit of the
  // key.
  static std::optional<double> difference(const std::string& text, const scenario::Key& key,
                                          const std::string& unit, double value, bool share) {
    const auto read = scenario::number_and_unit(text);
    if (!read) return std::nullopt;
    if (read->unit == "%" && !share) return 0.01 * read->number * std::fabs(value);
    const auto theirs = scenario::si_per(key, read->unit), ours = scenario::si_per(key, unit);
    if (!theirs || !ours) return std::nullopt;
    return read->number * *theirs / *ours;
  }

  std::optional<Quantity> quantity(const Block& block) {
    std::vector<Quantity> given;
    std::vector<std::string> all;
    for (int i = 0; i < quantities; ++i) {
      const auto one = static_cast<Quantity>(i);
      all.emplace_back(name(one));
      if (block.given(name(one))) given.push_back(one);
    }
    if (given.size() == 1) return given.front();
    // A misspelt one is told already.
    if (given.empty() && !misspelt(block))
      faults_.add(block.place(), block.path(),
                  fmt::format("holds no quantity; expected one of {}", ticked(all)));
    if (!given.empty())
      fault(block, name(given[1]),
            fmt::format("stands beside `{}`; expected one quantity a reading", name(given[0])));
    return std::nullopt;
  }

  // Whether the block has keys that the table has not.
  bool misspelt(const Block& block) const {
    const auto known = scenario::keys_below(block.table_path());
    for (const auto& entry : root_node_.entries) {
      if (entry.key != "readings") continue;
      for (const auto& item : entry.value->items) {
        if (item->place.line != block.place().line || item->place.column != block.place().column) continue;
        return std::any_of(item->entries.begin(), item->entries.end(), [&](const auto& own) {
          return std::none_of(known.begin(), known.end(),
                              [&](const auto* key) { return key->name() == own.key; });
        });
      }
    }
    return false;
  }

  void reading(const Block& block) {
    const auto what = quantity(block);
    if (!what) return;
    Reading reading{};
    reading.name = block.text("name");
    for (const auto& other : result_.readings)
      if (!reading.name.empty() && other.name == reading.name)
        fault(block, "name",
              fmt::format("the name {} is taken already; expected another", quote(reading.name)));
    auto& subject = reading.subject;
    subject.quantity = *what;
    for (const auto key : settings)
      if (block.given(key) && !takes(*what, key))
        return fault(block, key,
                     fmt::format("says nothing about `{}`; expected only {} beside it", name(*what),
                                 ticked({facts(*what).takes.begin(), facts(*what).takes.end()})));
    reading.value = block.number(name(*what));
    uncertainty(block, reading);
    if (!where(block, subject)) return;
    reading.tags_measured = static_cast<int>(block.count("tags_measured"));
    const auto at = block.place(name(*what));
    reading.where = faults_.beginning(at, block.path(name(*what)));
    result_.readings.push_back(std::move(reading));
  }

  void uncertainty(const Block& block, Reading& reading) {
    const std::string text = block.text("uncertainty");
    if (text.empty() || std::isnan(reading.value)) return;
    const Quantity what = reading.subject.quantity;
    const auto known = scenario::keys_below("bench.readings[]");
    const auto& key = **std::find_if(known.begin(), known.end(),
                                     [&](const auto* one) { return one->name() == name(what); });
    // SI: what a key's value is without a prefix.
    const auto read = scenario::number_and_unit(text);
    std::optional<double> sigma;
    if (read && read->unit == "%" && !facts(what).share) {
      sigma = 0.01 * read->number * std::fabs(reading.value);
    } else if (const auto per = read ? scenario::si_per(key, read->unit) : std::nullopt) {
      sigma = read->number * *per;
    }
    if (sigma && *sigma > 0.0) {
      reading.uncertainty = *sigma;
      return;
    }
    fault(block, "uncertainty",
          fmt::format("value {} is no uncertainty of `{}`; expected one above 0 such as `{}` or {}",
                      quote(text), name(what), "2 %", quote(uncertainty_example(key))));
  }

  static std::string uncertainty_example(const scenario::Key& key) {
    if (key.type == KeyType::fraction) return "0.02";
    const auto read = scenario::number_and_unit(std::string(key.example));
    return scenario::written(read->number * 0.02, read->unit);
  }

  bool tag_of(const Block& block, Subject& subject) {
    const Quantity what = subject.quantity;
    if (!takes(what, "tag")) return true;
    std::vector<std::string> names;
    for (const auto& tag : base().tags) names.push_back(tag.name);
    // Of these the drive has one as well.
    const bool drive_too = takes(what, "circuit");
    if (block.given("tag")) {
      const auto found = std::find(names.begin(), names.end(), block.text("tag"));
      if (found == names.end()) {
        if (!block.text("tag").empty())
          fault(block, "tag",
                fmt::format("there is no tag design {}; expected one of {}", quote(block.text("tag")),
                            ticked(names)));
        return false;
      }
      subject.tag = static_cast<std::size_t>(found - names.begin());
    } else if (!drive_too) {
      if (names.size() > 1) {
        fault(block, "tag",
              fmt::format("is left out where there are several designs; expected one of {}", ticked(names)));
        return false;
      }
      subject.tag = 0;
    }
    if (!subject.tag) return no_tag_settings(block);
    const auto& design = base().tags[*subject.tag];
    for (const char* other : {"circuit", "coil"})
      if (drive_too && block.given(other)) {
        fault(block, other, "stands beside `tag`; expected one of the two");
        return false;
      }
    const bool electrical = what != Quantity::terminal_speed && what != Quantity::hover_height &&
                            !simulated(what) && what != Quantity::first_light_distance &&
                            what != Quantity::first_light_supply;
    if (electrical && std::holds_alternative<scenario::ThresholdReceiver>(design.receiver)) {
      fault(block, "tag",
            fmt::format("the design {} has a plain threshold and no circuit; expected one with a coil",
                        quote(design.name)));
      return false;
    }
    if ((what == Quantity::terminal_speed || what == Quantity::hover_height ||
         what == Quantity::stuck_share) &&
        (design.hold || design.body.kind == scenario::BodyKind::tracer)) {
      fault(block, "tag",
            fmt::format("the design {} does not fly as a body; expected one that does", quote(design.name)));
      return false;
    }
    if (block.given("fit")) {
      const auto wanted = scenario::fit_name(scenario::emitters_of_fit(block.text("fit")));
      const auto found = std::find(design.fits.begin(), design.fits.end(), wanted);
      if (found == design.fits.end()) {
        fault(block, "fit",
              fmt::format("{} is none of the fits of {}; expected one of {}", quote(block.text("fit")),
                          quote(design.name), ticked(design.fits)));
        return false;
      }
      subject.fit = static_cast<std::size_t>(found - design.fits.begin());
    }
    return true;
  }

  bool no_tag_settings(const Block& block) {
    for (const char* key : {"fit", "tags_measured"})
      if (block.given(key)) {
        fault(block, key, "stands without `tag`; expected the design that was measured");
        return false;
      }
    return true;
  }

  // The circuit, or the coil alone.
  bool drive_of(const Block& block, Subject& subject) {
    if (subject.tag || !takes(subject.quantity, "circuit")) return true;
    if (!needs_coils(block, subject.quantity)) return false;
    std::vector<std::string> names;
    for (const auto& circuit : coils()->circuits) names.push_back(circuit.name);
    if (!block.given("circuit")) return true;
    const auto found = std::find(names.begin(), names.end(), block.text("circuit"));
    if (found == names.end()) {
      fault(block, "circuit",
            fmt::format("there is no circuit {}; expected one of {}", quote(block.text("circuit")),
                        ticked(names)));
      return false;
    }
    subject.circuit = static_cast<std::size_t>(found - names.begin());
    return true;
  }

  bool needs_coils(const Block& block, Quantity what) {
    if (coils() != nullptr) return true;
    fault(block, name(what),
          "is of the drive, but the scenario gives its field and no coils; expected a reading "
          "of something else");
    return false;
  }

  bool coil_of(const Block& block, Subject& subject) {
    if (!block.given("coil")) return true;
    if (!needs_coils(block, subject.quantity)) return false;
    std::vector<std::string> names;
    for (const auto& coil : coils()->coils) names.push_back(coil.name);
    const auto found = std::find(names.begin(), names.end(), block.text("coil"));
    if (found == names.end()) {
      fault(block, "coil",
            fmt::format("there is no coil {}; expected one of {}", quote(block.text("coil")), ticked(names)));
      return false;
    }
    for (const char* other : {"circuit", "place", "axis"})
      if (block.given(other)) {
        fault(block, other, "stands beside `coil`; expected one of the two");
        return false;
      }
    subject.coil = static_cast<std::size_t>(found - names.begin());
    return true;
  }

  bool where(const Block& block, Subject& subject) {
    const Quantity what = subject.quantity;
    if (!tag_of(block, subject) || !drive_of(block, subject) || !coil_of(block, subject)) return false;
    subject.place = {0.0, 0.0, 0.5 * base().vessel.height};
    if (block.has_triple("place")) subject.place = block.triple("place");
    subject.axis = {0.0, 0.0, 1.0};
    subject.sees = block.has_triple("axis") ? Subject::Sees::axis : Subject::Sees::all;
    if (block.has_triple("axis")) subject.axis = block.triple("axis");
    subject.falls = block.text("falls") == "along"    ? Falls::along
                    : block.text("falls") == "across" ? Falls::across
                                                      : Falls::turning;
    subject.tags_inside = block.text("tags_inside") == "dark"  ? TagsInside::dark
                          : block.text("tags_inside") == "lit" ? TagsInside::lit
                                                               : TagsInside::none;
    bool sound = inside(block, subject);
    for (const char* key : {"at", "turns", "area"}) {
      if (!takes(what, key)) continue;
      if (!block.given(key)) {
        fault(block, name(what), fmt::format("stands without `{}`; expected it beside", key));
        sound = false;
      } else {
        (key == std::string_view("at")      ? subject.at
         : key == std::string_view("turns") ? subject.turns
                                            : subject.area) = block.number(key);
      }
    }
    if (what == Quantity::supply_current || what == Quantity::first_light_supply)
      sound = has_supply(block, what) && sound;
    if (what == Quantity::resonance && !subject.tag && sound) sound = has_tank(block, what);
    if (what == Quantity::bandwidth && !subject.tag && sound) sound = has_tank(block, what);
    return sound;
  }

  // Air, and a tag that hovers, are within the vessel.
  bool inside(const Block& block, const Subject& subject) {
    if (subject.quantity != Quantity::air_speed && subject.quantity != Quantity::hover_height) return true;
    const auto& p = subject.place;
    const double radius = 0.5 * base().vessel.inner_diameter;
    if (std::hypot(p[0], p[1]) <= radius && p[2] >= 0.0 && p[2] <= base().vessel.height) return true;
    fault(block, "place",
          fmt::format("lies outside the vessel; expected within {} of its axis and up to {}",
                      scenario::millimetres(radius), scenario::millimetres(base().vessel.height)));
    return false;
  }

  bool has_supply(const Block& block, Quantity what) {
    if (!needs_coils(block, what)) return false;
    if (!std::holds_alternative<scenario::GivenCurrent>(coils()->driver)) return true;
    fault(block, name(what),
          "needs a driver with a supply, but the scenario gives the coils' current; expected a "
          "reading of something else");
    return false;
  }

  bool has_tank(const Block& block, Quantity what) {
    if (!std::holds_alternative<scenario::GivenCurrent>(coils()->driver)) return true;
    fault(block, name(what),
          "is of the drive's tank, but the scenario gives the coils' current; expected `tag`, or a "
          "reading of something else");
    return false;
  }

  const Block& root_;
  const scenario::Node& root_node_;
  Faults& faults_;
  Readings& result_;
  std::vector<std::pair<int, decltype(scenario::KeyPlace::steps)>> taken_;  // line, place
};

}  // namespace

std::string_view name(Quantity quantity) {
  return facts(quantity).name;
}

std::string_view unit(Quantity quantity) {
  return facts(quantity).unit;
}

bool simulated(Quantity quantity) {
  return facts(quantity).simulated;
}

double Unknown::deviation() const {
  return tolerance / std::sqrt(3.0);
}

scenario::NodePointer Readings::with(scenario::NodePointer root, std::size_t k, double value) const {
  return scenario::with_value(
      root, unknowns[k].place,
      fmt::format("{:.17g}{}{}", value, unknowns[k].unit.empty() ? "" : " ", unknowns[k].unit));
}

scenario::Scenario Readings::scenario_at(const std::vector<double>& values) const {
  auto root = base_root;
  for (std::size_t k = 0; k < unknowns.size(); ++k) root = with(root, k, values[k]);
  Faults faults(base_file.string());
  auto made = scenario::scenario_of(root, base.text, base_file, faults);
  made.flight = base.flight;
  made.flight.trace.replicates = 0;
  return made;
}

Readings parse_readings(const std::string& text, const std::string& name_shown,
                        const scenario::Scenario& base, const std::filesystem::path& base_file) {
  Faults faults(name_shown);
  const auto root = scenario::parse_document(text, faults);
  if (root && root->kind != scenario::Node::Kind::block)
    faults.add(root->place, "",
               "the file is no block of keys; expected keys such as `readings:` at its left edge");
  if (!root || root->kind != scenario::Node::Kind::block) throw InputError(faults.text());
  const Block block = scenario::check_block(*root, std::string(scenario::bench_path), "", faults);
  Readings result{};
  result.name = std::filesystem::path(name_shown).stem().string();
  result.text = text;
  result.base = base;
  result.base_file = base_file;
  Faults none(base_file.string());
  result.base_root = scenario::parse_document(base.text, none);
  Binder(block, *root, faults, result).run();
  if (!faults.empty()) throw InputError(faults.text());
  return result;
}

Readings read_readings(const std::filesystem::path& file, const scenario::Scenario& base,
                       const std::filesystem::path& base_file) {
  return parse_readings(scenario::file_text(file, "readings"), file.string(), base, base_file);
}

}  // namespace driftglow::tune
