#pragma once

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/scenario/edit.hpp"
#include "sim/scenario/scenario.hpp"

// Readings of a built exhibit and the scenario values that they shall correct, as read: every value already
// checked on its own and against the scenario.
namespace driftglow::tune {

enum class Quantity {
  resonance,
  bandwidth,
  inductance,
  resistance,
  search_coil_voltage,
  first_light_distance,
  first_light_supply,
  supply_current,
  air_speed,
  terminal_speed,
  hover_height,
  duty,
  flashes_per_second,
  stuck_share,
};
inline constexpr int quantities = 14;

// As the readings file has it: "first_light_distance".
std::string_view name(Quantity quantity);
// "Hz", "H" ...; "1" of shares, "1/s" of flashes.
std::string_view unit(Quantity quantity);
// Whether it takes flights to compute.
bool simulated(Quantity quantity);

enum class Falls { along, across, turning };
enum class TagsInside { none, dark, lit };

// What was read and where; the numbers of things are those of the scenario.
struct Subject {
  Quantity quantity;
  std::optional<std::size_t> tag;  // absent: the drive
  std::size_t fit = 0;             // of the tag's design
  std::size_t circuit = 0;
  std::optional<std::size_t> coil;
  double at = 0.0;                                  // Hz, of a meter
  std::array<double, 3> place;                      // m
  std::array<double, 3> axis;                       // unit vector
  enum class Sees { all, axis } sees = Sees::axis;  // an anemometer
  double turns = 0.0, area = 0.0;                   // 1, m2, of a search coil
  Falls falls = Falls::turning;
  TagsInside tags_inside = TagsInside::none;
};

struct Reading {
  std::string name;
  Subject subject;
  double value;        // SI
  double uncertainty;  // SI, standard
  int tags_measured;   // 1, over how many tags the value is the mean
  std::string where;   // "<file>:<line>:<column>: readings[2].resonance: ", begins a sentence about it
};

// A scenario value that the readings shall correct.
struct Unknown {
  scenario::KeyPlace place;
  std::string unit;    // as the scenario writes it; "" for a pure number
  double value;        // in that unit: the middle of the prior
  double tolerance;    // in that unit, to either side
  double least, most;  // in that unit, what the key may hold
  // Where the tolerance is the scenario's own: the key that holds it.
  std::optional<scenario::KeyPlace> own_tolerance;

  // Standard deviation of the prior, normal with the variance of a uniform one: tolerance/sqrt(3) (JCGM 100
  // [gum2008], 4.3.7).
  double deviation() const;
};

struct Readings {
  std::string title, name;
  std::string text;  // of the file
  scenario::Scenario base;
  scenario::NodePointer base_root;
  std::filesystem::path base_file;
  std::vector<Unknown> unknowns;
  std::vector<Reading> readings;
  int replicates;

  // The scenario with these values, in the unknowns' units. Throws InputError where they make none.
  scenario::Scenario scenario_at(const std::vector<double>& values) const;
  // The tree with unknown k at a value.
  scenario::NodePointer with(scenario::NodePointer root, std::size_t k, double value) const;
};

// The readings of a text about a scenario; `name_shown` stands for the file in sentences. Throws InputError
// whose text is one sentence a fault, joined by line breaks, in the order of the file.
Readings parse_readings(const std::string& text, const std::string& name_shown,
                        const scenario::Scenario& base, const std::filesystem::path& base_file);

// The same from a file.
Readings read_readings(const std::filesystem::path& file, const scenario::Scenario& base,
                       const std::filesystem::path& base_file);

}  // namespace driftglow::tune
