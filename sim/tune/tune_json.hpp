#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "sim/tune/tune.hpp"

namespace driftglow::tune {

// All that was found: unknowns in the scenario's units, readings in SI.
nlohmann::ordered_json tune_document(const Readings& readings, const Tuned& tuned,
                                     const std::string& version);

// Sentences about what the readings do not fit and do not tell; maybe none.
std::vector<std::string> warnings_of(const Tuned& tuned);

// "the reading `hand above`", "the tolerance of `air.flow_rate`".
std::string shown(const Tuned& tuned, const Datum& datum);

}  // namespace driftglow::tune
