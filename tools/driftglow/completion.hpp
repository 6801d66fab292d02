#pragma once

#include <array>
#include <string>
#include <string_view>
#include <utility>

#include "tools/driftglow/command_table.hpp"

namespace driftglow::program {

enum class Shell { bash, zsh, fish };
inline constexpr std::array<std::pair<std::string_view, Shell>, 3> shells{
    {{"bash", Shell::bash}, {"zsh", Shell::zsh}, {"fish", Shell::fish}}};

// Throws InputError, naming the shells there are.
Shell shell_named(const std::string& given);

// The script by which a shell completes commands, options, files and key names.
std::string completion_script(const std::vector<CommandRow>& table, Shell shell);

}  // namespace driftglow::program
