#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace driftglow::scenario {

// What `driftglow keys` shows: how values are written, then every key with type, range, default, meaning and
// an example. Lines of at most 100 characters.
std::string keys_text();

// The key table as a JSON schema (draft 2020-12) for editors of YAML. It knows types, units, choices, ranges
// of pure numbers and which keys go together; ranges of physical values and checks of values against each
// other are the reader's.
nlohmann::ordered_json keys_json_schema();
// The same for study files.
nlohmann::ordered_json study_keys_json_schema();
// The same for readings files.
nlohmann::ordered_json bench_keys_json_schema();

}  // namespace driftglow::scenario
