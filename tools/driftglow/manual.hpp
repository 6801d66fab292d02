#pragma once

#include <string>

#include "tools/driftglow/command_table.hpp"

namespace driftglow::program {

// driftglow(1) for the formatter roff with its macros `man`: commands and options, every key, files, exit
// status, cautions.
std::string manual_page(const std::vector<CommandRow>& table);

}  // namespace driftglow::program
