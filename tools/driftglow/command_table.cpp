#include "tools/driftglow/command_table.hpp"

#include <map>

#include "sim/flight/instruction_set.hpp"
#include "sim/scenario/keys.hpp"
#include "tools/driftglow/completion.hpp"

namespace driftglow::program {
namespace {

// By the placeholder; numbers and the like get no offers.
Wants wants_of(const std::string& placeholder) {
  static const std::map<std::string, Wants> known{
      {"DIR", Wants::folder},          {"SCENARIO", Wants::yaml_file}, {"STUDY", Wants::yaml_file},
      {"READINGS", Wants::yaml_file},  {"FLIGHT", Wants::result},      {"PART", Wants::result},
      {"SET", Wants::instruction_set}, {"SHELL", Wants::shell},        {"KEY", Wants::key}};
  const auto found = known.find(placeholder);
  return found == known.end() ? Wants::nothing : found->second;
}

CommandRow row_of(const CLI::App& command) {
  CommandRow row{command.get_name(), command.get_description(), command.get_footer(), {}, {}};
  for (const CLI::Option* option : command.get_options()) {
    const bool positional = option->get_positional();
    const std::string name = positional ? option->get_name() : "--" + option->get_lnames().front();
    const std::string argument =
        positional || option->get_type_size() == 0 ? std::string() : option->get_type_name();
    auto& list = positional ? row.positionals : row.options;
    list.push_back({name, argument, option->get_description(), wants_of(positional ? name : argument),
                    option->get_expected_max() > 1 ? ArgumentRow::Repeats::yes : ArgumentRow::Repeats::no});
  }
  return row;
}

}  // namespace

std::vector<CommandRow> command_table(const CLI::App& app) {
  std::vector<CommandRow> rows{row_of(app)};
  rows.front().name.clear();
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; }))
    rows.push_back(row_of(*command));
  return rows;
}

std::vector<std::string> words_of(Wants wants) {
  using enum flight::InstructionSet;
  std::vector<std::string> words;
  switch (wants) {
    case Wants::instruction_set:
      for (const auto set : {scalar, baseline, avx2, avx512}) words.emplace_back(flight::name(set));
      break;
    case Wants::shell:
      for (const auto& [name, shell] : shells) words.emplace_back(name);
      break;
    case Wants::key:
      // Brackets are a shell's own.
      for (const auto& key : scenario::key_texts()) words.push_back(scenario::without_brackets(key.path));
      break;
    case Wants::nothing:
    case Wants::folder:
    case Wants::yaml_file:
    case Wants::result:
      break;
  }
  return words;
}

}  // namespace driftglow::program
