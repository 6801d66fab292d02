#include "sim/scenario/check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "models/error.hpp"
#include "sim/library/wire.hpp"
#include "sim/scenario/fit_name.hpp"

namespace driftglow::scenario {
namespace {

using T = KeyType;
using Parsed = std::variant<double, Unreadable>;

std::string joined(const std::string& path, std::string_view key) {
  return path.empty() ? std::string(key) : fmt::format("{}.{}", path, key);
}

const char* kind_of(const Node& node) {
  switch (node.kind) {
    case Node::Kind::empty:
      return "empty";
    case Node::Kind::scalar:
      return "text";
    case Node::Kind::list:
      return "a list";
    case Node::Kind::block:
      return "a block";
  }
  throw LogicError("unknown kind of node");
}

bool is_name(std::string_view text) {
  const auto good = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == ' ' ||
           c == '_' || c == '.' || c == '-';
  };
  constexpr std::size_t longest = 80;
  return !text.empty() && text.size() <= longest && text.front() != ' ' && text.back() != ' ' &&
         text != "." && text != ".." && std::all_of(text.begin(), text.end(), good);
}

// Checks one value; the methods return monostate content after adding a fault.
class ValueCheck {
 public:
  ValueCheck(const Key& key, std::string shown, Faults& faults)
      : key_(key), shown_(std::move(shown)), faults_(faults) {}

  Value check(const Node& node) {
    Value value;
    value.place = node.place;
    value.given = true;
    switch (key_.type) {
      case T::block:
        if (expect(node, Node::Kind::block))
          value.content = std::make_shared<Block>(check_block(node, key_.inside(), shown_, faults_));
        break;
      case T::blocks:
      case T::blocks_or_names:
        value.content = list_of_blocks(node);
        break;
      case T::fits:
        fits(node, value);
        break;
      case T::counts_by_fit:
        counts(node, value);
        break;
      case T::values:
        values(node, value);
        break;
      case T::text:
        if (expect(node, Node::Kind::scalar)) value.content = node.scalar;
        break;
      case T::name:
        if (expect(node, Node::Kind::scalar)) {
          if (is_name(node.scalar))
            value.content = node.scalar;
          else
            fault(node, "is not a name");
        }
        break;
      case T::choice:
        choice(node, value);
        break;
      case T::sense:
        sense(node, value);
        break;
      case T::count:
        count(node, value);
        break;
      case T::number:
      case T::fraction:
      case T::quantity:
      case T::wire:
        if (const auto number = number_of(node)) value.content = *number;
        break;
      case T::light:
        if (node.kind == Node::Kind::scalar && is_choice(node.scalar))
          value.content = node.scalar;
        else if (const auto number = number_of(node))
          value.content = *number;
        break;
      case T::place:
        triple(node, value, &ValueCheck::number_of);
        break;
      case T::direction_or_choice:
        if (node.kind == Node::Kind::scalar && is_choice(node.scalar)) {
          value.content = node.scalar;
          break;
        }
        [[fallthrough]];
      case T::direction:
        direction(node, value);
        break;
      case T::curve:
        curve(node, value);
        break;
      case T::chromaticity:
        chromaticity(node, value);
        break;
    }
    return value;
  }

 private:
  void fault(const Node& node, const std::string& what) { fault(node, what, expectation(key_)); }

  void fault(const Node& node, const std::string& what, const std::string& expected) {
    faults_.add(node.place, shown_,
                fmt::format("value {} {}; expected {}", quote(node.scalar), what, expected));
  }

  bool expect(const Node& node, Node::Kind kind) {
    if (node.kind == kind && !(kind == Node::Kind::scalar && node.scalar.empty())) return true;
    const bool empty =
        node.kind == Node::Kind::empty || (node.kind == Node::Kind::scalar && node.scalar.empty());
    faults_.add(node.place, shown_,
                fmt::format("value is {}; expected {}", empty ? "empty" : kind_of(node), expectation(key_)));
    return false;
  }

  bool is_choice(const std::string& text) const {
    return std::find(key_.choices.begin(), key_.choices.end(), text) != key_.choices.end();
  }

  std::optional<double> number_of(const Node& node) {
    if (!expect(node, Node::Kind::scalar)) return std::nullopt;
    const Parsed parsed = parse_value(key_, node.scalar);
    if (const auto* bad = std::get_if<Unreadable>(&parsed)) {
      fault(node, bad->reason);
      return std::nullopt;
    }
    const double number = std::get<double>(parsed);
    if (number >= table_number(key_, key_.least) && number <= table_number(key_, key_.most)) return number;
    fault(node, "is out of range", expectation_with_range(key_));
    return std::nullopt;
  }

  std::optional<double> pure_number(const Node& node) {
    if (!expect(node, Node::Kind::scalar)) return std::nullopt;
    const Parsed parsed = parse_number(node.scalar);
    if (const auto* number = std::get_if<double>(&parsed)) return *number;
    fault(node, std::get<Unreadable>(parsed).reason);
    return std::nullopt;
  }

  std::vector<BlockOrName> list_of_blocks(const Node& node) {
    std::vector<BlockOrName> items;
    if (!expect(node, Node::Kind::list)) return items;
    if (node.items.empty())
      faults_.add(node.place, shown_, fmt::format("the list is empty; expected {}", expectation(key_)));
    for (std::size_t i = 0; i < node.items.size(); ++i) {
      const Node& item = *node.items[i];
      const std::string shown = fmt::format("{}[{}]", shown_, i + 1);
      if (item.kind == Node::Kind::scalar && key_.type == T::blocks_or_names && is_name(item.scalar))
        items.emplace_back(NamedText{item.scalar, item.place});
      else if (item.kind == Node::Kind::block)
        items.emplace_back(std::make_shared<Block>(check_block(item, key_.inside(), shown, faults_)));
      else
        faults_.add(item.place, shown,
                    fmt::format("value is {}; expected {}", kind_of(item), expectation(key_)));
    }
    return items;
  }

  void fits(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::list)) return;
    std::vector<NamedText> found;
    for (const NodePointer& item : node.items) {
      if (!expect(*item, Node::Kind::scalar)) continue;
      const auto emitters = emitters_of_fit(item->scalar);
      const auto bars = emitters.size() - 1;
      if (bars > 0 && std::find(emitters.begin(), emitters.end(), "") != emitters.end())
        fault(*item, "lacks an emitter beside `|`");
      else if (bars > 1)
        fault(*item, fmt::format("joins {} emitters, but a tank carries one or an antiparallel pair",
                                 emitters.size()));
      else if (bars == 0 ? is_name(item->scalar) : std::all_of(emitters.begin(), emitters.end(), is_name))
        found.push_back({fit_name(emitters), item->place});
      else
        fault(*item, "is not a name");
    }
    if (node.items.empty())
      faults_.add(node.place, shown_, fmt::format("the list is empty; expected {}", expectation(key_)));
    value.content = found;
  }

  void counts(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::block)) return;
    std::vector<NamedCount> found;
    bool sound = true;
    for (const Entry& entry : node.entries) {
      const std::string shown = joined(shown_, entry.key);
      Key item = key_;
      item.type = T::count;
      item.example = "8";
      const Value number = ValueCheck(item, shown, faults_).check(*entry.value);
      if (const auto* whole = std::get_if<std::uint64_t>(&number.content))
        found.push_back({fit_name(emitters_of_fit(entry.key)), entry.place, int(*whole)});
      else
        sound = false;
    }
    if (sound) value.content = found;
  }

  void values(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::list)) return;
    std::vector<NamedText> found;
    for (const NodePointer& item : node.items) {
      if (expect(*item, Node::Kind::scalar)) found.push_back({item->scalar, item->place});
    }
    if (node.items.empty())
      faults_.add(node.place, shown_, fmt::format("the list is empty; expected {}", expectation(key_)));
    value.content = found;
  }

  void choice(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::scalar)) return;
    if (is_choice(node.scalar)) {
      value.content = node.scalar;
      return;
    }
    const std::vector<std::string> words(key_.choices.begin(), key_.choices.end());
    const auto near = nearest_word(node.scalar, words);
    fault(node, near ? fmt::format("is not known, did you mean `{}`", *near) : "is not known");
  }

  void sense(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::scalar)) return;
    const Parsed parsed = parse_number(node.scalar);
    const auto* number = std::get_if<double>(&parsed);
    if (number && (*number == 1 || *number == -1))
      value.content = *number;
    else
      fault(node, number ? "is out of range" : std::get<Unreadable>(parsed).reason);
  }

  void count(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::scalar)) return;
    const auto parsed = parse_count(node.scalar);
    if (const auto* bad = std::get_if<Unreadable>(&parsed)) {
      fault(node, bad->reason);
      return;
    }
    const auto number = std::get<std::uint64_t>(parsed);
    const auto least = std::get<std::uint64_t>(parse_count(key_.least));
    const auto most = std::get<std::uint64_t>(parse_count(key_.most));
    if (number >= least && number <= most)
      value.content = number;
    else
      fault(node, "is out of range", expectation_with_range(key_));
  }

  bool expect_items(const Node& node, std::size_t count) {
    if (!expect(node, Node::Kind::list)) return false;
    if (node.items.size() == count) return true;
    faults_.add(node.place, shown_,
                fmt::format("the list has {} values; expected {}", node.items.size(), expectation(key_)));
    return false;
  }

  void triple(const Node& node, Value& value, std::optional<double> (ValueCheck::*read)(const Node&)) {
    if (!expect_items(node, 3)) return;
    Triple result;
    bool sound = true;
    for (std::size_t i = 0; i < 3; ++i) {
      const auto number = (this->*read)(*node.items[i]);
      sound = sound && number;
      result[i] = number.value_or(0);
    }
    if (sound) value.content = result;
  }

  void direction(const Node& node, Value& value) {
    triple(node, value, &ValueCheck::pure_number);
    auto* axis = std::get_if<Triple>(&value.content);
    if (!axis) return;
    const double length = std::hypot((*axis)[0], (*axis)[1], (*axis)[2]);
    if (length > 0 && std::isfinite(length)) {
      for (double& component : *axis) component /= length;
    } else {
      faults_.add(node.place, shown_,
                  fmt::format("the direction has no length; expected {}", expectation(key_)));
      value.content = std::monostate();
    }
  }

  void curve(const Node& node, Value& value) {
    if (!expect(node, Node::Kind::list)) return;
    Pairs points;
    bool sound = true;
    if (node.items.size() < 2) {
      faults_.add(
          node.place, shown_,
          fmt::format("the list has fewer than two pairs; expected pairs such as `{}`", key_.example));
      return;
    }
    for (const NodePointer& item : node.items) {
      if (item->kind != Node::Kind::list || item->items.size() != 2) {
        faults_.add(item->place, shown_,
                    fmt::format("value is {}; expected a pair of {} and {}", pair_fault(*item),
                                info(*key_.dimension).noun, info(*key_.second_dimension).noun));
        sound = false;
        continue;
      }
      const auto first = column(*item->items[0], *key_.dimension);
      const auto second = column(*item->items[1], *key_.second_dimension);
      sound = sound && first && second;
      if (sound) points.emplace_back(*first, *second);
    }
    if (sound) value.content = points;
  }

  static std::string pair_fault(const Node& item) {
    return item.kind == Node::Kind::list ? fmt::format("a list of {}", item.items.size()) : kind_of(item);
  }

  std::optional<double> column(const Node& node, Dimension dimension) {
    Key item = key_;
    item.type = T::quantity;
    item.dimension = dimension;
    item.example = info(dimension).example;
    const std::string expected = expectation(item);
    if (node.kind != Node::Kind::scalar) {
      faults_.add(node.place, shown_, fmt::format("value is {}; expected {}", kind_of(node), expected));
      return std::nullopt;
    }
    const Parsed parsed = parse_quantity(node.scalar, dimension);
    if (const auto* bad = std::get_if<Unreadable>(&parsed)) {
      fault(node, bad->reason, expected);
      return std::nullopt;
    }
    const double number = std::get<double>(parsed);
    if (number >= 0 && std::isfinite(number)) return number;
    fault(node, "is out of range", fmt::format("{} of at least 0", info(dimension).noun));
    return std::nullopt;
  }

  void chromaticity(const Node& node, Value& value) {
    if (!expect_items(node, 2)) return;
    const auto x = pure_number(*node.items[0]);
    const auto y = pure_number(*node.items[1]);
    if (!x || !y) return;
    if (*x >= 0 && *y > 0 && *x + *y <= 1)
      value.content = Pairs{{*x, *y}};
    else
      faults_.add(node.place, shown_,
                  "no colour has these x and y; expected y above 0 and a sum of at most 1");
  }

  const Key& key_;
  std::string shown_;
  Faults& faults_;
};

NodePointer table_node(const Key& key, std::string_view text) {
  Faults faults("key table");
  auto node = parse_document(text, faults);
  if (!node) throw LogicError(fmt::format("key table: {}: {}", key.path, faults.text()));
  return node;
}

// One block against the table.
class BlockCheck {
 public:
  BlockCheck(const Node& node, const std::string& table_path, const std::string& shown_path, Faults& faults)
      : node_(node), table_path_(table_path), faults_(faults), block_(table_path, shown_path, node.place) {
    known_ = keys_below(table_path);
    if (known_.empty()) throw LogicError("no keys below " + table_path);
  }

  Block run() {
    expect_known_form();
    for (const Entry& entry : node_.entries) check_entry(entry);
    for (const Key* key : known_)
      if (!entry(key->name())) fill(*key);
    return std::move(block_);
  }

 private:
  // What a newer form means cannot be known: this sentence comes alone.
  void expect_known_form() const {
    const Key* key = known("format");
    const Entry* given = key ? entry(key->name()) : nullptr;
    if (!given) return;
    const auto number = parse_number(given->value->scalar);
    const double* version = std::get_if<double>(&number);
    if (version == nullptr || *version <= std::get<double>(parse_number(key->most))) return;
    throw InputError(
        faults_.beginning(given->place, block_.path(key->name())) +
        fmt::format("value {} is a form newer than this driftglow knows; expected one up to {}, or "
                    "the newer driftglow that the file was written for",
                    quote(given->value->scalar), key->most));
  }

  const Entry* entry(std::string_view key) const {
    const auto found = std::find_if(node_.entries.begin(), node_.entries.end(),
                                    [&](const Entry& e) { return e.key == key; });
    return found == node_.entries.end() ? nullptr : &*found;
  }

  const Key* known(std::string_view name) const {
    const auto found =
        std::find_if(known_.begin(), known_.end(), [&](const Key* k) { return k->name() == name; });
    return found == known_.end() ? nullptr : *found;
  }

  enum class Match { yes, no, unknown };

  // Whether a neighbour holds one of the values; unknown where the neighbour is itself faulty or missing.
  Match matches(const With& with) const {
    const Key* neighbour = known(with.key);
    if (!neighbour) throw LogicError(fmt::format("no key {} below {}", with.key, table_path_));
    if (neighbour->only_with && matches(*neighbour->only_with) != Match::yes)
      return matches(*neighbour->only_with);
    const Entry* given = entry(with.key);
    const std::string value = given ? given->value->scalar : std::string(neighbour->fallback);
    const auto is = [&](std::string_view other) { return other == value; };
    if (std::any_of(with.values.begin(), with.values.end(), is)) return Match::yes;
    return std::any_of(neighbour->choices.begin(), neighbour->choices.end(), is) ? Match::no : Match::unknown;
  }

  void check_entry(const Entry& entry_given) {
    const std::string shown = block_.path(entry_given.key);
    const Key* key = known(entry_given.key);
    if (!key) {
      faults_.add(entry_given.place, shown, unknown_key(entry_given.key));
      return;
    }
    if (key->only_with && matches(*key->only_with) == Match::no)
      faults_.add(entry_given.place, shown,
                  fmt::format("key has no meaning with this `{0}`; expected it only with `{0}: {1}`",
                              key->only_with->key, fmt::join(key->only_with->values, "` or `")));
    const Entry* rival = key->excludes.empty() ? nullptr : entry(key->excludes);
    if (rival && later(entry_given, *rival, *key) && conflicts_told_.insert(rival->key).second)
      faults_.add(entry_given.place, shown,
                  fmt::format("key stands beside `{}` on line {}; expected one of the two", rival->key,
                              rival->place.line));
    block_.set(key->name(), ValueCheck(*key, shown, faults_).check(*entry_given.value));
  }

  // A conflict that both keys name is told once, at the later one.
  bool later(const Entry& one, const Entry& rival, const Key& key) const {
    const Key* other = known(rival.key);
    if (!other || other->excludes != key.name()) return true;
    return std::pair(one.place.line, one.place.column) > std::pair(rival.place.line, rival.place.column);
  }

  std::string unknown_key(const std::string& word) const {
    std::vector<std::string> names;
    for (const Key* key : known_) names.emplace_back(key->name());
    if (const auto near = nearest_word(word, names))
      return fmt::format("unknown key; did you mean `{}`?", *near);
    std::string elsewhere;
    for (const Key& key : keys())
      if (key.name() == word && elsewhere.empty() && file_of(key.path) == file_of(table_path_))
        elsewhere = key.path;
    if (!elsewhere.empty()) return fmt::format("unknown key in this place; expected it at `{}`", elsewhere);
    return fmt::format("unknown key {}; expected {}`{}`", quote(word), names.size() > 1 ? "one of " : "",
                       fmt::join(names, "`, `"));
  }

  void fill(const Key& key) {
    Value value;
    value.place = node_.place;
    const bool lifted = !key.unless.empty() && entry(key.unless);
    const bool apart = (key.only_with && matches(*key.only_with) != Match::yes) ||
                       (!key.excludes.empty() && entry(key.excludes));
    const bool needed = key.needed_with ? matches(*key.needed_with) == Match::yes
                                        : key.need == Need::required && !lifted && !apart;
    if (needed) {
      missing(key);
    } else if (!apart && !key.fallback.empty()) {
      value = ValueCheck(key, block_.path(key.name()), faults_).check(*table_node(key, key.fallback));
      value.place = node_.place;
      value.given = false;
    } else if (key.type == T::block && key.need == Need::optional) {
      value.content = defaults_of(key);
    }
    block_.set(key.name(), std::move(value));
  }

  // A block of defaults where all its keys have one, else nothing.
  Content defaults_of(const Key& key) const {
    Node empty;
    empty.kind = Node::Kind::block;
    empty.place = node_.place;
    Faults none("defaults");
    auto block = std::make_shared<Block>(check_block(empty, key.inside(), block_.path(key.name()), none));
    if (none.empty()) return block;
    return std::monostate();
  }

  void missing(const Key& key) {
    const Key* other = key.unless.empty() ? nullptr : known(key.unless);
    const bool mutual = other && other->need == Need::required && other->unless == key.name();
    if (mutual && other < &key) return;  // told with the other one
    std::string instead;
    if (mutual) instead = fmt::format(" or `{}`", key.unless);
    faults_.add(node_.place, block_.path(),
                fmt::format("key `{}`{} is missing; expected {}", key.name(), instead, expectation(key)));
  }

  const Node& node_;
  std::string table_path_;
  Faults& faults_;
  std::vector<const Key*> known_;
  std::set<std::string> conflicts_told_;  // each rival once, however many keys it stands against
  Block block_;
};

template <class Wanted>
Wanted content_or_empty(const Value& value) {
  const auto* content = std::get_if<Wanted>(&value.content);
  return content ? *content : Wanted{};
}

}  // namespace

std::variant<double, Unreadable> parse_value(const Key& key, std::string_view text) {
  switch (key.type) {
    case T::number:
      return parse_number(text);
    case T::fraction:
      return parse_fraction(text);
    case T::wire:
      return parse_wire(text);
    default:
      return parse_quantity(text, *key.dimension);
  }
}

std::string Block::path(std::string_view key) const {
  return joined(shown_path_, key);
}

const Value& Block::at(std::string_view key) const {
  const auto found = values_.find(std::string(key));
  if (found != values_.end()) return found->second;
  throw LogicError(fmt::format("the key table has no {} in {}", key, table_path_));
}

double Block::number(std::string_view key) const {
  return maybe(key).value_or(std::numeric_limits<double>::quiet_NaN());
}

std::optional<double> Block::maybe(std::string_view key) const {
  const Value& value = at(key);
  if (const auto* number = std::get_if<double>(&value.content)) return *number;
  if (const auto* whole = std::get_if<std::uint64_t>(&value.content)) return double(*whole);
  return std::nullopt;
}

std::uint64_t Block::count(std::string_view key) const {
  return content_or_empty<std::uint64_t>(at(key));
}

std::string Block::text(std::string_view key) const {
  return content_or_empty<std::string>(at(key));
}

Triple Block::triple(std::string_view key) const {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  return has_triple(key) ? std::get<Triple>(at(key).content) : Triple{nan, nan, nan};
}

Pairs Block::pairs(std::string_view key) const {
  return content_or_empty<Pairs>(at(key));
}

std::vector<NamedText> Block::fits(std::string_view key) const {
  return content_or_empty<std::vector<NamedText>>(at(key));
}

std::vector<NamedText> Block::values(std::string_view key) const {
  return content_or_empty<std::vector<NamedText>>(at(key));
}

std::vector<NamedCount> Block::counts(std::string_view key) const {
  return content_or_empty<std::vector<NamedCount>>(at(key));
}

std::vector<BlockOrName> Block::items(std::string_view key) const {
  return content_or_empty<std::vector<BlockOrName>>(at(key));
}

std::vector<const Block*> Block::blocks(std::string_view key) const {
  const auto* all = std::get_if<std::vector<BlockOrName>>(&at(key).content);
  std::vector<const Block*> result;
  if (!all) return result;
  for (const BlockOrName& item : *all)
    if (const auto* block = std::get_if<std::shared_ptr<Block>>(&item)) result.push_back(block->get());
  return result;
}

const Block* Block::block(std::string_view key) const {
  const auto* block = std::get_if<std::shared_ptr<Block>>(&at(key).content);
  return block ? block->get() : nullptr;
}

Block check_block(const Node& node, const std::string& table_path, const std::string& shown_path,
                  Faults& faults) {
  return BlockCheck(node, table_path, shown_path, faults).run();
}

double table_number(const Key& key, std::string_view text) {
  const Parsed parsed = parse_value(key, text);
  if (const auto* number = std::get_if<double>(&parsed)) return *number;
  throw LogicError(fmt::format("key table: {}: {} {}", key.path, text, std::get<Unreadable>(parsed).reason));
}

std::variant<double, Unreadable> parse_wire(std::string_view text) {
  if (!text.starts_with("AWG")) return parse_quantity(text, Dimension::length);
  constexpr std::uint64_t finest_gauge = 56;
  std::string_view digits = text.substr(3);
  while (digits.starts_with(' ')) digits.remove_prefix(1);
  const auto gauge = parse_count(digits);
  const auto* number = std::get_if<std::uint64_t>(&gauge);
  if (!number || *number > finest_gauge) return Unreadable{"is not a gauge from AWG 0 to AWG 56"};
  return library::gauge_diameter(int(*number));
}

}  // namespace driftglow::scenario
