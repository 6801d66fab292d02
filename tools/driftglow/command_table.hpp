#pragma once

#include <CLI/CLI.hpp>
#include <string>
#include <vector>

// The command line as plain rows, for what is made from it: shell completion and the manual page.
namespace driftglow::program {

// What an argument wants, for a shell to offer.
enum class Wants { nothing, folder, yaml_file, result, instruction_set, shell, key };

struct ArgumentRow {
  std::string name;      // "--out"; of a positional argument its placeholder
  std::string argument;  // placeholder of the value: "DIR"; empty for a flag
  std::string meaning;
  Wants wants;
  enum class Repeats { no, yes } repeats;
};

struct CommandRow {
  std::string name, meaning, footer;
  std::vector<ArgumentRow> positionals, options;
};

// The program's own options stand in a row without a name, which is the first.
std::vector<CommandRow> command_table(const CLI::App& app);

// Words that an argument may be; empty for files and free values.
std::vector<std::string> words_of(Wants wants);

}  // namespace driftglow::program
