#pragma once

#include <filesystem>
#include <string>

#include "sim/tune/tune.hpp"

namespace driftglow::tune {

// The scenario's text with the tuned values in place, rounded to a hundredth of their uncertainty, all else
// as the user wrote it, and a block `tuned` at its end that holds what is left uncertain. A tolerance of the
// drive that the readings took the place of becomes 0 %. Files that the scenario names are named from
// `folder`, where the text is to stand. Throws InputError where a value cannot be changed by itself.
std::string tuned_scenario(const Readings& readings, const Tuned& tuned, const std::filesystem::path& folder);

// A number with so many decimals that rounding it loses less than a hundredth of the deviation.
std::string rounded(double value, double deviation);

}  // namespace driftglow::tune
