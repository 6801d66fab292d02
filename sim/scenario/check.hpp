#pragma once

#include <array>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "sim/scenario/document.hpp"
#include "sim/scenario/key_table.hpp"

// A document held against the key table.
namespace driftglow::scenario {

class Block;

struct NamedText {
  std::string text;
  Place place;
};

struct NamedCount {
  std::string name;
  Place place;
  int count;
};

using Triple = std::array<double, 3>;
using Pairs = std::vector<std::pair<double, double>>;
using BlockOrName = std::variant<NamedText, std::shared_ptr<Block>>;

using Content =
    std::variant<std::monostate, double, std::uint64_t, std::string, Triple, Pairs, std::vector<NamedText>,
                 std::vector<NamedCount>, std::vector<BlockOrName>, std::shared_ptr<Block>>;

struct Value {
  Place place;  // of the value, or of the block where the key is left out
  bool given = false;
  Content content;  // monostate: left out without default, or faulty
};

// The values of one block in SI, defaults filled in. A faulty or absent number is NaN, a faulty or absent
// text empty: comparisons with them are false, so that one fault raises no second one.
class Block {
 public:
  Block(std::string table_path, std::string shown_path, Place place)
      : table_path_(std::move(table_path)), shown_path_(std::move(shown_path)), place_(place) {}

  Place place() const { return place_; }
  // As it is shown in a sentence: "tags[2].body", "tags[2].body.radius". Items of a list count from 1.
  const std::string& path() const { return shown_path_; }
  std::string path(std::string_view key) const;

  // Each throws LogicError for a key that the table does not have in this block.
  bool given(std::string_view key) const { return at(key).given; }
  Place place(std::string_view key) const { return at(key).place; }
  double number(std::string_view key) const;
  std::optional<double> maybe(std::string_view key) const;
  std::uint64_t count(std::string_view key) const;  // 0 where faulty
  std::string text(std::string_view key) const;
  bool has_triple(std::string_view key) const { return std::holds_alternative<Triple>(at(key).content); }
  Triple triple(std::string_view key) const;
  Pairs pairs(std::string_view key) const;
  std::vector<NamedText> fits(std::string_view key) const;
  std::vector<NamedText> values(std::string_view key) const;
  std::vector<NamedCount> counts(std::string_view key) const;
  std::vector<BlockOrName> items(std::string_view key) const;
  std::vector<const Block*> blocks(std::string_view key) const;  // the blocks among the items
  // Null where it is left out and has keys that have no default, or is faulty.
  const Block* block(std::string_view key) const;

  void set(std::string_view key, Value value) { values_[std::string(key)] = std::move(value); }
  const std::string& table_path() const { return table_path_; }

 private:
  const Value& at(std::string_view key) const;

  std::string table_path_;
  std::string shown_path_;
  Place place_;
  std::map<std::string, Value> values_;
};

// Checks each key of the block at `table_path` ("" is the whole scenario) on its own: known, not missing,
// right type, unit and range. Faults go to `faults`; what is sound is in the result.
Block check_block(const Node& node, const std::string& table_path, const std::string& shown_path,
                  Faults& faults);

// A value of the table (a default, a bound) as its number. LogicError when it is not one.
double table_number(const Key& key, std::string_view text);

// The number in SI of a key of type number, fraction, wire, quantity or place (one of its three), whatever
// its range.
std::variant<double, Unreadable> parse_value(const Key& key, std::string_view text);

// Bare diameter [m] of "0.2 mm" or "AWG 32".
std::variant<double, Unreadable> parse_wire(std::string_view text);

}  // namespace driftglow::scenario
