#pragma once

#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/scenario/quantity.hpp"

// What a user measured or computed on a grid of nodes, from CSV or HDF5 by the file's first bytes. CSV: a
// header of names with units in brackets such as "r [mm], z [mm], u_z [m/s]", columns in any order, one node
// a line in any order; lines that begin with # and empty ones are skipped. HDF5: axes and values at their
// paths, in SI.
namespace driftglow::maps {

struct NodeColumn {
  const char* name;
  const char* unit;                              // an example of it
  std::optional<scenario::Dimension> dimension;  // absent: only the unit itself
  const char* path;                              // in HDF5
  bool is_axis;
  bool needed;
  double least = -std::numeric_limits<double>::infinity();  // SI
};

struct NodeWords {
  std::string where;    // begins the sentence about a file that cannot be opened: the scenario's line and key
  std::string what;     // "the file of the air"
  std::string header;   // an example, in backticks
  std::string layout;   // "expected /axes/r ... as in air.h5"
  std::string coarser;  // "(at most 48 x 64 cells are used)"
};

struct NodeGrid {
  // SI, rising; of each column that is an axis and given, else empty. In the columns' order the last axis is
  // the fastest in `values`.
  std::vector<std::vector<double>> axes;
  std::vector<std::optional<std::vector<double>>> values;  // SI, finite, of each other column that is given
  std::size_t nodes;
};

// Throws InputError: "<file>:<line>: <what is wrong>; expected <what would be right>".
NodeGrid read_node_file(const std::string& file, std::span<const NodeColumn> columns, const NodeWords& words);

// Digest of the file's bytes.
std::string file_digest(const std::string& file);

}  // namespace driftglow::maps
