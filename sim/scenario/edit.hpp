#pragma once

#include <optional>
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

// What stands there; null where the scenario leaves it out.
const Node* node_at(const Node& root, const KeyPlace& place);

// The text of the tree with another value there, all else byte for byte as it was; `root` is of the text.
// Nothing where the value does not stand in the text by itself: left out, shared by an alias, or over several
// lines.
std::optional<std::string> with_value_in_text(const std::string& text, const NodePointer& root,
                                              const KeyPlace& place, const std::string& value);

// A number at the head of a text and what follows it, blanks between left out; nothing where no number is.
struct NumberAndUnit {
  double number;
  std::string unit;
};
std::optional<NumberAndUnit> number_and_unit(const std::string& text);

// With twelve digits, so that 0.1 + 0.2 reads 0.3.
std::string written(double number, const std::string& unit);

// What a difference of 1 in a unit of the key is in SI: 1e-9 of "nF", 0.01 of "%", 1 of "degC". Nothing for a
// unit that the key does not take.
std::optional<double> si_per(const Key& key, const std::string& unit);

// A part of the tree as text that is equal where all its values are; "" where it is not there.
std::string dump(const Node& root, std::string_view top_key);

}  // namespace driftglow::scenario
