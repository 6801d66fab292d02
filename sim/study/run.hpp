#pragma once

#include <functional>
#include <map>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "sim/flight/campaign.hpp"
#include "sim/study/study.hpp"

namespace driftglow::study {

// What flew of one design: replicates 0, 1, ... in order.
struct DesignResult {
  std::string refused;  // why it cannot be built or flown; empty: it flew
  int replicates = 0;
  std::vector<std::vector<double>> values;  // [output][replicate]; of the sheet one value
};

// All designs tried; results[i] belongs to designs[i]. A part has results for its own range alone.
struct Table {
  std::vector<Coordinates> designs;
  std::vector<DesignResult> results;
  flight::Range range{};  // of the designs that this part flies
  bool interrupted = false;
};

// Replicates `first` on of one design, finished.
struct Piece {
  int design, first;
  DesignResult result;
};

struct RunSettings {
  int threads;
  flight::InstructionSet instructions;
  std::optional<flight::Part> part;
  std::string program_version;
};

struct RunHooks {
  std::function<void(const flight::Progress&)> progress;  // one at a time
  std::function<void(const Piece&)> finished;             // from the flying threads, maybe several at once
};

// Flies the study. `kept` are pieces flown before: they are taken over instead of being flown, and the table
// is the same. Replicates of one number share their random numbers in all designs; air and coil maps are
// shared by the designs that do not touch them. Which flights a design gets depends on results of the study
// alone, never on threads. Throws InputError where an output's path leads nowhere or no design at all can be
// built.
Table run(const Study& study, const RunSettings& settings, const std::stop_token& stop, const RunHooks& hooks,
          std::vector<Piece> kept = {});

}  // namespace driftglow::study
