#pragma once

#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scenario/quantity.hpp"

// Every key a scenario may hold, once: reading, checks, defaults, `driftglow keys` and the JSON schema are
// made from it.
namespace driftglow::scenario {

enum class KeyType {
  block,            // keys below it
  blocks,           // a list of blocks
  blocks_or_names,  // a list of blocks and names
  fits,             // a list of names and of pairs of names, `green | red`
  counts_by_fit,    // a block of names or pairs with whole numbers
  values,           // a list of single values
  text,             // free text
  name,             // letters, digits, space and _ . -
  choice,
  count,      // a whole number
  number,     // a pure number
  fraction,   // a pure number or a percentage
  quantity,   // a number and a unit
  sense,      // +1 or -1
  light,      // a choice or an illuminance
  wire,       // a bare diameter or a gauge
  place,      // three lengths
  direction,  // three pure numbers, not all 0
  direction_or_choice,
  curve,         // a list of pairs of quantities
  chromaticity,  // two pure numbers
};

enum class Need { required, optional };

// A neighbour in the same block that holds one of the values.
struct With {
  std::string_view key;
  std::vector<std::string_view> values;
};

struct Key {
  std::string_view path = {};  // "tags[].receiver.turns"; [] stands for each item of a list
  KeyType type = KeyType::block;
  Need need = Need::optional;
  std::string_view example = {};                   // as written in a file
  std::string_view meaning = {};                   // one sentence without full stop
  std::optional<Dimension> dimension = {};         // of a quantity, of a curve's first column
  std::optional<Dimension> second_dimension = {};  // of a curve's second column
  std::string_view least = {}, most = {};          // as written in a file, both allowed
  std::string_view range_reason = {};              // why not beyond
  std::vector<std::string_view> choices = {};
  std::string_view fallback = {};        // what is read when the key is left out, as written in a file
  std::string_view otherwise = {};       // what holds then where that is no fixed value
  std::optional<With> only_with = {};    // may stand only there
  std::optional<With> needed_with = {};  // required only there
  std::string_view unless = {};          // required only where this neighbour is not given
  std::string_view excludes = {};        // may not stand beside this neighbour

  std::string_view name() const;    // "turns"
  std::string_view parent() const;  // "tags[].receiver", "" at the top
  // What follows it in the path of the keys below it: "tags[]" for the list `tags`.
  std::string inside() const;
};

// In the order in which they are shown.
std::span<const Key> keys();

// The keys of a study file and of a readings file stand below these paths, those of a scenario below "".
inline constexpr std::string_view study_path = "study", bench_path = "bench";
// Which of the three a key's path is of: study_path, bench_path or "".
std::string_view file_of(std::string_view path);

// Keys directly below a path ("" is the top).
std::vector<const Key*> keys_below(std::string_view parent);

// The noun of what the key wants, with an example: "a length such as `0.2 mm`".
std::string expectation(const Key& key);

// The same with its range: "a length from `1 mm` to `2 m`".
std::string expectation_with_range(const Key& key);

// The nearest of the words by Damerau and Levenshtein's distance (one step: a letter more, less, other, or
// two neighbours swapped), up to a third of the word's length, at least 1; else the only word that holds it
// as a part; else nothing.
std::optional<std::string> nearest_word(std::string_view word, std::span<const std::string> words);

}  // namespace driftglow::scenario
