#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <vector>

#include "sim/flight/campaign.hpp"
#include "sim/flight/instruction_set.hpp"

namespace driftglow::program {

inline constexpr const char* version = DRIFTGLOW_VERSION;

enum class Talk { progress, quiet };
enum class Form { text, json };
enum class Start { anew, resume };
enum class Work { fly, list };  // of a study

// One tag of one replicate, both from 0.
struct OnlyTag {
  int replicate, tag;
};
enum class Path { untold, traced };

// The command line as given; what is absent falls to the scenario or the machine.
struct Options {
  std::filesystem::path scenario;
  std::optional<std::filesystem::path> out;
  std::optional<int> threads;
  std::optional<std::uint64_t> seed;
  std::optional<int> replicates;
  std::optional<flight::InstructionSet> instructions;
  std::optional<flight::Part> part;
  std::vector<std::filesystem::path> parts;  // of join
  std::filesystem::path readings;            // of tune
  std::optional<int> slurm_parts;
  std::optional<OnlyTag> only;
  Path path = Path::untold;  // of `only`
  Start start = Start::anew;
  Work work = Work::fly;
  Talk talk = Talk::progress;
  Form form = Form::text;
};

enum class Tables { none, csv };

struct ShowOptions {
  std::filesystem::path flight;  // flight.h5 or the folder that holds it
  std::optional<std::filesystem::path> out;
  Tables tables = Tables::none;
  Talk talk = Talk::progress;
  Form form = Form::text;
};

}  // namespace driftglow::program
