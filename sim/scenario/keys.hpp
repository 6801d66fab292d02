#pragma once

#include <nlohmann/json.hpp>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace driftglow::scenario {

// What `driftglow keys` shows: how values are written, then every key with type, range, default, meaning and
// an example. Lines of at most 100 characters. With paths only these keys and those below them, a path with
// or without its brackets; throws InputError for one that is no key's.
std::string keys_text(std::span<const std::string> paths = {});

// The same key by key.
struct KeyText {
  std::string path, type, standing, meaning;
  std::string example;  // a line of YAML; empty for blocks
};
std::vector<KeyText> key_texts();

// A key's path as it is taken beside its own: "tags.receiver" for "tags[].receiver".
std::string without_brackets(std::string_view path);

// The key table as a JSON schema (draft 2020-12) for editors of YAML. It knows types, units, choices, ranges
// of pure numbers and which keys go together; ranges of physical values and checks of values against each
// other are the reader's.
nlohmann::ordered_json keys_json_schema();
// The same for study files.
nlohmann::ordered_json study_keys_json_schema();
// The same for readings files.
nlohmann::ordered_json bench_keys_json_schema();

}  // namespace driftglow::scenario
