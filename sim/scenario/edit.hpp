#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "sim/scenario/document.hpp"
#include "sim/scenario/key_table.hpp"

// Single values of a scenario's tree by their path.
namespace driftglow::scenario {

// A key that holds one value, or one of three of a place or direction.
struct KeyPlace {
  std::string path;                                           // as given
  const Key* key;                                             // of the table
  std::vector<std::variant<std::string, std::size_t>> steps;  // entries and items from the root
};

// Items of lists are told by name or by number from 0: "tags[plankton].receiver.turns",
// "drive.coils[0].height", "drive.coils[lower].centre[2]", "tags[plankton].mix.warm-white". Lists must be
// there; blocks and keys left out need not. The text, instead, says what is wrong: "has no key `hieght` ...;
// did you mean `height`?".
std::variant<KeyPlace, std::string> find_key(const Node& root, std::string_view path);

// The tree with another value there; what is not touched is shared.
NodePointer with_value(const NodePointer& root, const KeyPlace& place, const std::string& value);

// What is wrong with such a value by itself (unit, range, choice), as the reader says it without file, line
// and key; empty where nothing is.
std::string fault_of_value(const KeyPlace& place, const std::string& value);

// A part of the tree as text that is equal where all its values are; "" where it is not there.
std::string dump(const Node& root, std::string_view top_key);

}  // namespace driftglow::scenario
