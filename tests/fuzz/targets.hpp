#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <span>
#include <string>
#include <vector>

// What reads files of others, each as a function of any bytes. The fuzzer (tools/fuzz) looks for bytes that
// hurt; the test `fuzz` feeds it those of tests/fuzz/seeds.
namespace driftglow::fuzz {

using Bytes = std::span<const std::uint8_t>;

struct Target {
  const char* name;  // the folder of its seeds
  // Throws where a reader does not do what it promises: reads the bytes, or refuses them by an InputError of
  // whole sentences.
  void (*run)(Bytes);
};

std::span<const Target> targets();

void scenario_target(Bytes text);
void readings_target(Bytes text);
void study_target(Bytes text);
void air_csv_target(Bytes text);
// These take a whole file and alter it as the bytes say (altered_file.hpp).
void air_hdf5_target(Bytes edits);
void coil_map_target(Bytes edits);
void air_map_target(Bytes edits);
void flight_target(Bytes edits);

enum class Outcome { read, refused };

// The action throws nothing but InputErrors; those have sentences of printable characters, every line
// beginning with `about` unless that is empty.
Outcome read_or_refused(const std::string& about, const std::function<void()>& action);

// A folder of this process for files that a reader wants by name.
const std::filesystem::path& scratch();
void write_file(const std::filesystem::path& path, Bytes bytes);

}  // namespace driftglow::fuzz
