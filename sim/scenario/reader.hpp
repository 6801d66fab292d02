#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace driftglow::scenario {

// The scenario of a file, every value checked on its own and against the others. Throws InputError whose text
// is one sentence a fault, joined by line breaks, in the order of the file.
Scenario read_scenario(const std::filesystem::path& file);

// The same from a text; `name_shown` stands for the file in the sentences and gives the scenario its name.
Scenario parse_scenario(const std::string& text, const std::string& name_shown);

// What the library offers to `fits` and `air.fan.name`.
const std::vector<Emitter>& library_emitters();
const std::vector<Fan>& library_fans();

}  // namespace driftglow::scenario
