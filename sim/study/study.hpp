#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/scenario/edit.hpp"
#include "sim/scenario/scenario.hpp"

// A study as read: many designs around one scenario. Every value already checked by the reader.
namespace driftglow::study {

struct Link {
  scenario::KeyPlace place;
  double factor, offset;            // of the number that is varied, both in its unit
  std::vector<std::string> values;  // instead of the rule, one a level
};

enum class Scale { linear, logarithmic };

// Whether a range is of numbers of things, such as turns.
enum class Numbers { any, whole };

// One thing that is varied. A design's coordinate is a number between `from` and `to`, or that of a level
// from 0.
struct Variable {
  std::string name;
  std::string unit;                 // as written; "" for pure numbers and choices
  std::vector<std::string> levels;  // as written; empty: any number of a range
  double from, to;                  // of a range, in the unit
  Scale scale;
  std::vector<Link> links;

  Numbers numbers() const;
};

enum class DesignKind { grid, latin_hypercube, sobol, sensitivity, search };

enum class Document { flight, sheet };

struct Output {
  std::string name;
  Document document;
  std::string path;   // in the document
  std::string where;  // "<file>:<line>:<column>: outputs[1].path: ", begins a sentence about it
};

enum class Want { most, least };

struct Goal {
  std::size_t output;
  Want want;
};

struct Limit {
  std::size_t output;
  std::optional<double> least, most;
};

enum class Spend { all, ranks };

struct Flights {
  int replicates, most;
  std::optional<double> target_interval;
  Spend spend;

  // Replicates at a design's next look: half as many again, in whole packs of every instruction set.
  int next_count(int flown) const;
  // How often ranks are looked at to decide whether to fly on, at most.
  int looks() const;
};

using Coordinates = std::vector<double>;

struct Study {
  std::string title, name;
  std::string text, hash;  // of the study file
  scenario::Scenario base;
  scenario::NodePointer base_root;
  std::filesystem::path base_file;
  std::string base_shown;  // the scenario file as the study names it
  std::vector<Variable> variables;
  DesignKind kind;
  std::size_t samples;
  Flights flights;
  std::vector<Output> outputs;
  std::vector<Goal> goals;  // one or two
  std::vector<Limit> limits;

  // Levels of each variable of a grid.
  std::vector<std::size_t> grid_levels() const;
  // Designs known before any is flown: all but those a search tries.
  std::vector<Coordinates> planned() const;
  // From the unit interval.
  double coordinate(std::size_t variable, double share) const;
  // As a table shows it: "24 V".
  std::string shown(std::size_t variable, double coordinate) const;
  // Throws InputError, beginning with the design's values, where it makes no scenario.
  scenario::Scenario scenario_at(const Coordinates& coordinates) const;
  scenario::NodePointer tree_at(const Coordinates& coordinates) const;
};

using scenario::number_and_unit;
using scenario::written;

}  // namespace driftglow::study
