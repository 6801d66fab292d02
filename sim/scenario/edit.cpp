#include "sim/scenario/edit.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>

#include "sim/scenario/check.hpp"

namespace driftglow::scenario {
namespace {

using T = KeyType;

const Entry* entry_of(const Node& block, std::string_view key) {
  const auto found = std::find_if(block.entries.begin(), block.entries.end(),
                                  [&](const Entry& entry) { return entry.key == key; });
  return found == block.entries.end() ? nullptr : &*found;
}

std::optional<std::size_t> number_in(std::string_view text) {
  std::size_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return number;
}

std::string names_text(const std::vector<std::string>& names) {
  return fmt::format("`{}`", fmt::join(names, "`, `"));
}

bool holds_one_value(const Key& key) {
  switch (key.type) {
    case T::choice:
    case T::count:
    case T::number:
    case T::fraction:
    case T::quantity:
    case T::sense:
    case T::light:
    case T::wire:
    case T::name:
      return true;
    default:
      return false;
  }
}

// Walks a path along tree and table together; the first fault ends it.
class Walk {
 public:
  Walk(const Node& root, std::string_view path)
      : node_(&root), left_(path), place_{std::string(path), nullptr, {}} {}

  std::variant<KeyPlace, std::string> run() {
    if (left_.empty()) return "is empty; expected a key such as `drive.driver.supply`";
    std::string below;
    while (fault_.empty() && !done_) below = step(below);
    if (!fault_.empty()) return fault_;
    return place_;
  }

 private:
  // The path of the table below which to go on.
  std::string step(const std::string& below) {
    const auto end = std::min(left_.find_first_of(".["), left_.size());
    const std::string_view word = left_.substr(0, end);
    left_.remove_prefix(end);
    const auto known = keys_below(below);
    const auto found =
        std::find_if(known.begin(), known.end(), [&](const Key* key) { return key->name() == word; });
    if (found == known.end()) return unknown(word, below, known);
    const Key& key = **found;
    place_.key = &key;
    enter(std::string(word));
    switch (key.type) {
      case T::block:
        if (!take('.')) fail("is a block of keys; expected the path of one of its keys");
        return key.inside();
      case T::blocks:
      case T::blocks_or_names:
        item(key);
        if (fault_.empty() && !take('.')) fail("is a block of keys; expected the path of one of its keys");
        return key.inside();
      case T::counts_by_fit:
        if (!take('.')) fail("is a block of fits; expected the path of one of them, such as `mix.white`");
        enter(std::string(left_));
        done_ = true;
        return "";
      case T::place:
      case T::direction:
        component();
        return "";
      default:
        if (!holds_one_value(key)) fail("holds no single number or choice");
        if (!left_.empty()) fail("has nothing below it");
        done_ = true;
        return "";
    }
  }

  std::string unknown(std::string_view word, const std::string& below, const std::vector<const Key*>& known) {
    std::vector<std::string> names;
    for (const Key* key : known) names.emplace_back(key->name());
    const auto near = nearest_word(word, names);
    fault_ =
        fmt::format("has no key {}{}{}; {}", quote(word), below.empty() ? "" : " in ", below,
                    near ? fmt::format("did you mean `{}`?", *near) : "expected one of " + names_text(names));
    return "";
  }

  void fail(const std::string& what) {
    if (fault_.empty()) fault_ = what;
  }

  bool take(char c) {
    if (!left_.starts_with(c)) return false;
    left_.remove_prefix(1);
    return true;
  }

  void enter(const std::string& key) {
    place_.steps.emplace_back(key);
    const Entry* entry = node_ && node_->kind == Node::Kind::block ? entry_of(*node_, key) : nullptr;
    node_ = entry ? entry->value.get() : nullptr;
  }

  // What stands in brackets next.
  std::optional<std::string> bracketed() {
    const auto end = left_.find(']');
    if (!left_.starts_with('[') || end == std::string_view::npos) return std::nullopt;
    std::string word(left_.substr(1, end - 1));
    left_.remove_prefix(end + 1);
    return word;
  }

  void item(const Key& key) {
    if (!node_ || node_->kind != Node::Kind::list)
      return fail(fmt::format("goes into the list `{}`, which the scenario has not", key.path));
    std::vector<std::string> names;
    for (const NodePointer& item : node_->items) {
      const Entry* name = item->kind == Node::Kind::block ? entry_of(*item, "name") : nullptr;
      names.push_back(name ? name->value->scalar : item->scalar);
    }
    const auto word = bracketed();
    if (!word)
      return fail(
          fmt::format("goes into the list `{}` without saying which item; expected one of {} or a number "
                      "from 0, in brackets",
                      key.path, names_text(names)));
    const auto named = std::find(names.begin(), names.end(), *word);
    std::size_t index = static_cast<std::size_t>(named - names.begin());
    if (named == names.end()) index = number_in(*word).value_or(names.size());
    if (index >= names.size())
      return fail(
          fmt::format("goes to the item {} of `{}`, which is not there; expected one of {} or a number from "
                      "0 to {}",
                      quote(*word), key.path, names_text(names), names.size() - 1));
    place_.steps.emplace_back(index);
    node_ = node_->items[index].get();
  }

  void component() {
    const auto word = bracketed();
    const auto index = word ? number_in(*word) : std::nullopt;
    if (!index || *index > 2 || !left_.empty())
      return fail("holds three values; expected which of them, such as `[2]` for the third");
    if (!node_ || node_->kind != Node::Kind::list || node_->items.size() != 3)
      return fail("is not in the scenario as three values");
    place_.steps.emplace_back(*index);
    done_ = true;
  }

  const Node* node_;  // null where the scenario leaves it out
  std::string_view left_;
  KeyPlace place_;
  std::string fault_;
  bool done_ = false;
};

NodePointer changed(const NodePointer& node, const KeyPlace& place, std::size_t depth,
                    const std::string& value, Place near) {
  auto copy = node ? std::make_shared<Node>(*node) : std::make_shared<Node>();
  if (!node) copy->place = near;
  if (depth == place.steps.size()) {
    copy->kind = Node::Kind::scalar;
    copy->scalar = value;
    return copy;
  }
  if (const auto* index = std::get_if<std::size_t>(&place.steps[depth])) {
    auto& item = copy->items.at(*index);
    item = changed(item, place, depth + 1, value, copy->place);
    return copy;
  }
  copy->kind = Node::Kind::block;
  const auto& key = std::get<std::string>(place.steps[depth]);
  const auto found = std::find_if(copy->entries.begin(), copy->entries.end(),
                                  [&](const Entry& entry) { return entry.key == key; });
  if (found != copy->entries.end())
    found->value = changed(found->value, place, depth + 1, value, copy->place);
  else
    copy->entries.push_back({key, copy->place, changed(nullptr, place, depth + 1, value, copy->place)});
  return copy;
}

// Of a line and a column in characters; past the end where the text is shorter.
std::size_t offset_of(const std::string& text, Place place) {
  std::size_t at = 0;
  for (int line = 1; line < place.line && at < text.size(); ++at)
    if (text[at] == '\n') ++line;
  const auto follows = [&](std::size_t i) {
    return i < text.size() && (static_cast<unsigned char>(text[i]) & 0xC0U) == 0x80U;
  };
  for (int column = 1; column < place.column && at < text.size(); ++column)
    for (++at; follows(at);) ++at;
  return at;
}

// Bytes of a scalar as it is written there; 0 where it is not written out in one piece.
std::size_t written_length(std::string_view rest, const std::string& scalar) {
  if (rest.starts_with(scalar)) return scalar.size();
  const std::string_view quotes = "'\"";
  if (rest.empty() || quotes.find(rest.front()) == std::string_view::npos) return 0;
  return rest.substr(1).starts_with(scalar + rest.front()) ? scalar.size() + 2 : 0;
}

void dump_node(const Node& node, std::string& text) {
  text += fmt::format("{}{}:{}", static_cast<int>(node.kind), node.scalar.size(), node.scalar);
  for (const NodePointer& item : node.items) dump_node(*item, text);
  for (const Entry& entry : node.entries) {
    text += "," + entry.key + "=";
    dump_node(*entry.value, text);
  }
  text += ";";
}

}  // namespace

std::variant<KeyPlace, std::string> find_key(const Node& root, std::string_view path) {
  return Walk(root, path).run();
}

NodePointer with_value(const NodePointer& root, const KeyPlace& place, const std::string& value) {
  return changed(root, place, 0, value, {});
}

const Node* node_at(const Node& root, const KeyPlace& place) {
  const Node* node = &root;
  for (const auto& step : place.steps) {
    if (const auto* index = std::get_if<std::size_t>(&step)) {
      node =
          node->kind == Node::Kind::list && *index < node->items.size() ? node->items[*index].get() : nullptr;
    } else {
      const Entry* entry =
          node->kind == Node::Kind::block ? entry_of(*node, std::get<std::string>(step)) : nullptr;
      node = entry ? entry->value.get() : nullptr;
    }
    if (node == nullptr) return nullptr;
  }
  return node;
}

std::optional<std::string> with_value_in_text(const std::string& text, const NodePointer& root,
                                              const KeyPlace& place, const std::string& value) {
  const Node* node = node_at(*root, place);
  if (node == nullptr || node->kind != Node::Kind::scalar) return std::nullopt;
  const std::size_t at = offset_of(text, node->place);
  const std::size_t length =
      written_length(std::string_view(text).substr(std::min(at, text.size())), node->scalar);
  if (length == 0) return std::nullopt;
  std::string changed_text = text.substr(0, at) + value + text.substr(at + length);
  // Whoever reads it must see that one change and no other.
  Faults faults("");
  const auto seen = parse_document(changed_text, faults);
  std::string there, wanted;
  if (seen) dump_node(*seen, there);
  dump_node(*with_value(root, place, value), wanted);
  if (there != wanted) return std::nullopt;
  return changed_text;
}

std::optional<NumberAndUnit> number_and_unit(const std::string& text) {
  const char* begin = text.data() + (text.starts_with('+') ? 1 : 0);
  const char* end = text.data() + text.size();
  if (begin == end || !(*begin == '-' || (*begin >= '0' && *begin <= '9'))) return std::nullopt;
  NumberAndUnit result{};
  const auto [rest, error] = std::from_chars(begin, end, result.number);
  if (error != std::errc() || !std::isfinite(result.number)) return std::nullopt;
  result.unit = std::string(rest, end);
  result.unit.erase(0, std::min(result.unit.find_first_not_of(' '), result.unit.size()));
  return result;
}

std::string written(double number, const std::string& unit) {
  return fmt::format("{:.12g}{}{}", number, unit.empty() ? "" : " ", unit);
}

std::optional<double> si_per(const Key& key, const std::string& unit) {
  const auto one = parse_value(key, written(1.0, unit)), none = parse_value(key, written(0.0, unit));
  if (!std::holds_alternative<double>(one) || !std::holds_alternative<double>(none)) return std::nullopt;
  return std::get<double>(one) - std::get<double>(none);
}

std::string fault_of_value(const KeyPlace& place, const std::string& value) {
  Node block;
  block.kind = Node::Kind::block;
  auto scalar = std::make_shared<Node>();
  scalar->kind = Node::Kind::scalar;
  scalar->scalar = value;
  NodePointer held = scalar;
  const Key& key = *place.key;
  if (key.type == T::counts_by_fit) {
    auto counts = std::make_shared<Node>();
    counts->kind = Node::Kind::block;
    counts->entries.push_back({std::get<std::string>(place.steps.back()), {}, scalar});
    held = counts;
  } else if (key.type == T::place || key.type == T::direction) {
    auto list = std::make_shared<Node>();
    list->kind = Node::Kind::list;
    list->items.assign(3, scalar);
    held = list;
  }
  block.entries.push_back({std::string(key.name()), {}, held});
  Faults faults("");
  check_block(block, std::string(key.parent()), "", faults);
  // Others of the block are missing here: only what is said of this key's value counts.
  const std::string start = fmt::format(":1:1: {}", key.name());
  const std::string text = faults.text();
  for (std::size_t at = 0; at < text.size();) {
    const auto end = std::min(text.find('\n', at), text.size());
    const std::string_view line = std::string_view(text).substr(at, end - at);
    const auto said = line.find(": value ");
    if (line.starts_with(start) && said != std::string_view::npos) return std::string(line.substr(said + 2));
    at = end + 1;
  }
  return "";
}

std::string dump(const Node& root, std::string_view top_key) {
  const Entry* entry = entry_of(root, top_key);
  std::string text;
  if (entry) dump_node(*entry->value, text);
  return text;
}

}  // namespace driftglow::scenario
