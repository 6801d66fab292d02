#include "tools/driftglow/completion.hpp"

#include <fmt/format.h>

#include "models/error.hpp"

namespace driftglow::program {
namespace {

std::string replaced(std::string text, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
  return text;
}

// In single quotes, of bash and zsh, and of fish.
std::string sh_quoted(const std::string& text) {
  return "'" + replaced(text, "'", "'\\''") + "'";
}
std::string fish_quoted(const std::string& text) {
  return "'" + replaced(replaced(text, "\\", "\\\\"), "'", "\\'") + "'";
}

std::string joined(const std::vector<std::string>& words) {
  return fmt::format("{}", fmt::join(words, " "));
}

// What bash runs to offer a value.
std::string bash_offer(Wants wants) {
  switch (wants) {
    case Wants::nothing:
      return ":";
    case Wants::folder:
      return "_driftglow_files";
    case Wants::yaml_file:
      return "_driftglow_files yaml";
    case Wants::result:
      return "_driftglow_files h5";
    case Wants::instruction_set:
    case Wants::shell:
    case Wants::key:
      return "_driftglow_words " + sh_quoted(joined(words_of(wants)));
  }
  throw LogicError("unknown kind of argument");
}

std::string bash_script(const std::vector<CommandRow>& table) {
  std::string commands, cases;
  for (const auto& row : table) {
    std::string options, values, positionals;
    for (const auto& option : row.options) {
      options += (options.empty() ? "" : " ") + option.name;
      if (!option.argument.empty())
        values += fmt::format("        {}) {}; return ;;\n", option.name, bash_offer(option.wants));
    }
    if (row.name.empty()) {
      cases += fmt::format("    '') _driftglow_words \"{} $commands\" ;;\n", options);
      continue;
    }
    commands += (commands.empty() ? "" : " ") + row.name;
    for (std::size_t i = 0; i < row.positionals.size(); ++i) {
      const auto& positional = row.positionals[i];
      const bool repeats = positional.repeats == ArgumentRow::Repeats::yes;
      positionals +=
          fmt::format("        {}) {} ;;\n", repeats ? "*" : std::to_string(i), bash_offer(positional.wants));
    }
    cases += fmt::format("    {})\n", row.name);
    if (!values.empty()) cases += "      case $previous in\n" + values + "      esac\n";
    cases += fmt::format("      case $word in -*) _driftglow_words '{}'; return ;; esac\n", options);
    if (!positionals.empty()) cases += "      case $given in\n" + positionals + "      esac\n";
    cases += "      ;;\n";
  }
  // Options that take a value: what follows them is no positional argument.
  std::vector<std::string> with_value;
  for (const auto& row : table)
    for (const auto& option : row.options)
      if (!option.argument.empty() &&
          std::find(with_value.begin(), with_value.end(), option.name) == with_value.end())
        with_value.push_back(option.name);
  return "# bash completion for driftglow, made by `driftglow completion bash`.\n"
         "_driftglow_words() { mapfile -t COMPREPLY < <(compgen -W \"$1\" -- \"$word\"); }\n"
         "# Folders, and files that end as given.\n"
         "_driftglow_files() {\n"
         "  compopt -o filenames 2>/dev/null\n"
         "  mapfile -t COMPREPLY < <(compgen -d -- \"$word\"; [ $# -eq 0 ] || compgen -f -X \"!*.$1\" -- "
         "\"$word\")\n"
         "}\n"
         "_driftglow() {\n"
         "  local word=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD-1]} command= given=0 i\n"
         "  local commands=" +
         sh_quoted(commands) +
         "\n"
         "  COMPREPLY=()\n"
         "  # `--out=x` comes as three words.\n"
         "  if [ \"$word\" = = ]; then word=; elif [ \"$previous\" = = ]; then "
         "previous=${COMP_WORDS[COMP_CWORD-2]}; fi\n"
         "  for ((i = 1; i < COMP_CWORD; ++i)); do\n"
         "    case ${COMP_WORDS[i]} in\n"
         "      " +
         fmt::format("{}", fmt::join(with_value, "|")) +
         ")\n"
         "        if [ \"${COMP_WORDS[i+1]}\" = = ]; then ((i += 2)); else ((i += 1)); fi ;;\n"
         "      -*) ;;\n"
         "      *) if [ -z \"$command\" ]; then command=${COMP_WORDS[i]}; else ((given += 1)); fi ;;\n"
         "    esac\n"
         "  done\n"
         "  case $command in\n" +
         cases +
         "  esac\n"
         "}\n"
         "complete -F _driftglow driftglow\n";
}

std::string zsh_offer(Wants wants) {
  switch (wants) {
    case Wants::nothing:
      return "";
    case Wants::folder:
      return "_files -/";
    case Wants::yaml_file:
      return "_files -g \"*.yaml\"";
    case Wants::result:
      return "_files -g \"*.h5\"";
    case Wants::instruction_set:
    case Wants::shell:
    case Wants::key:
      return "(" + joined(words_of(wants)) + ")";
  }
  throw LogicError("unknown kind of argument");
}

std::string zsh_option(const ArgumentRow& option) {
  std::string meaning;
  for (const char c : option.meaning) {
    if (c == '[' || c == ']' || c == ':' || c == '\\') meaning += '\\';
    meaning += c;
  }
  std::string spec = fmt::format("{}{}[{}]", option.name, option.argument.empty() ? "" : "=", meaning);
  if (!option.argument.empty()) spec += fmt::format(":{}:{}", option.argument, zsh_offer(option.wants));
  return sh_quoted(spec);
}

std::string zsh_script(const std::vector<CommandRow>& table) {
  std::string own, commands, cases;
  for (const auto& row : table) {
    if (row.name.empty()) {
      for (const auto& option : row.options) own += fmt::format("    {} \\\n", zsh_option(option));
      continue;
    }
    commands += fmt::format("        {}\n", sh_quoted(row.name + ":" + replaced(row.meaning, ":", "\\:")));
    cases += fmt::format("        {})\n          _arguments", row.name);
    for (const auto& option : row.options) cases += " \\\n            " + zsh_option(option);
    for (std::size_t i = 0; i < row.positionals.size(); ++i) {
      const auto& positional = row.positionals[i];
      const bool repeats = positional.repeats == ArgumentRow::Repeats::yes;
      cases += " \\\n            " + sh_quoted(fmt::format("{}:{}:{}", repeats ? "*" : std::to_string(i + 1),
                                                           positional.name, zsh_offer(positional.wants)));
    }
    cases += "\n          ;;\n";
  }
  return "#compdef driftglow\n"
         "# zsh completion for driftglow, made by `driftglow completion zsh`.\n"
         "_driftglow() {\n"
         "  local context state state_descr line\n"
         "  typeset -A opt_args\n"
         "  _arguments -C \\\n" +
         own +
         "    '1:command:->command' \\\n"
         "    '*::argument:->argument'\n"
         "  case $state in\n"
         "    command)\n"
         "      local -a commands\n"
         "      commands=(\n" +
         commands +
         "      )\n"
         "      _describe command commands\n"
         "      ;;\n"
         "    argument)\n"
         "      case $line[1] in\n" +
         cases +
         "      esac\n"
         "      ;;\n"
         "  esac\n"
         "}\n"
         "if [ \"$funcstack[1]\" = _driftglow ]; then _driftglow \"$@\"; else compdef _driftglow driftglow; "
         "fi\n";
}

// With the word's beginning, which fish puts last.
std::string fish_offer(Wants wants) {
  switch (wants) {
    case Wants::nothing:
      return "-x";
    case Wants::folder:
      return "-x -a '(__fish_complete_directories (commandline -ct))'";
    case Wants::yaml_file:
      return "-x -a '(__fish_complete_suffix .yaml)'";
    case Wants::result:
      return "-x -a '(__fish_complete_suffix .h5)'";
    case Wants::instruction_set:
    case Wants::shell:
    case Wants::key:
      return "-x -a " + fish_quoted(joined(words_of(wants)));
  }
  throw LogicError("unknown kind of argument");
}

std::string fish_script(const std::vector<CommandRow>& table) {
  std::string text =
      "# fish completion for driftglow, made by `driftglow completion fish`.\n"
      "complete -c driftglow -f\n";
  for (const auto& row : table) {
    const std::string where =
        row.name.empty() ? "complete -c driftglow -n __fish_use_subcommand"
                         : fmt::format("complete -c driftglow -n '__fish_seen_subcommand_from {}'", row.name);
    if (!row.name.empty())
      text += fmt::format("complete -c driftglow -n __fish_use_subcommand -a {} -d {}\n", row.name,
                          fish_quoted(row.meaning));
    for (const auto& option : row.options)
      text += fmt::format("{} -l {}{} -d {}\n", where, option.name.substr(2),
                          option.argument.empty() ? "" : " " + fish_offer(option.wants),
                          fish_quoted(option.meaning));
    // All of a command's positional arguments are of one kind.
    if (!row.positionals.empty()) text += where + " " + fish_offer(row.positionals.front().wants) + "\n";
  }
  return text;
}

}  // namespace

Shell shell_named(const std::string& given) {
  for (const auto& [name, shell] : shells)
    if (given == name) return shell;
  throw InputError(fmt::format("driftglow: completion: there are no scripts for `{}`; expected {}", given,
                               joined(words_of(Wants::shell))));
}

std::string completion_script(const std::vector<CommandRow>& table, Shell shell) {
  switch (shell) {
    case Shell::bash:
      return bash_script(table);
    case Shell::zsh:
      return zsh_script(table);
    case Shell::fish:
      return fish_script(table);
  }
  throw LogicError("unknown shell");
}

}  // namespace driftglow::program
