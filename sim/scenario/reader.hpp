#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "sim/scenario/document.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::scenario {

// The scenario of a file, every value checked on its own and against the others. Throws InputError whose text
// is one sentence a fault, joined by line breaks, in the order of the file.
Scenario read_scenario(const std::filesystem::path& file);

// The same from a text; `name_shown` stands for the file in the sentences and gives the scenario its name.
Scenario parse_scenario(const std::string& text, const std::string& name_shown);

// The same from a tree of the text, or one made of it by with_value(); null: its faults are in `faults`. The
// file gives the name, and the folder of files that the scenario names.
Scenario scenario_of(const NodePointer& root, const std::string& text, const std::filesystem::path& file,
                     Faults& faults);

// What a file of at most largest_file bytes holds, one more where it is longer. Directories, pipes and
// devices are refused by InputError; `kind` is the noun for it: "scenario".
std::string file_text(const std::filesystem::path& file, const std::string& kind);

// What the library offers to `fits` and `air.fan.name`.
const std::vector<Emitter>& library_emitters();
const std::vector<Fan>& library_fans();

}  // namespace driftglow::scenario
