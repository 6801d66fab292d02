#include "sim/scenario/difference.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/scenario/document.hpp"

namespace driftglow::scenario {
namespace {

std::string shown(const Node* node) {
  if (node == nullptr) return "left out";
  switch (node->kind) {
    case Node::Kind::scalar:
      return quote(node->scalar);
    case Node::Kind::list:
      return fmt::format("a list of {}", node->items.size());
    case Node::Kind::block:
      return "a block";
    default:
      return "empty";
  }
}

std::optional<Difference> compare(const std::string& key, const Node* here, const Node* there) {
  if (here == nullptr || there == nullptr || here->kind != there->kind || here->scalar != there->scalar ||
      here->items.size() != there->items.size())
    return Difference{key, shown(here), shown(there)};
  for (std::size_t i = 0; i < here->items.size(); ++i) {
    if (auto found = compare(fmt::format("{}[{}]", key, i + 1), here->items[i].get(), there->items[i].get()))
      return found;
  }
  const auto below = [&](const std::string& name) { return key.empty() ? name : key + "." + name; };
  const auto named = [](const Node& block, const std::string& name) -> const Node* {
    const auto found = std::find_if(block.entries.begin(), block.entries.end(),
                                    [&](const Entry& entry) { return entry.key == name; });
    return found == block.entries.end() ? nullptr : found->value.get();
  };
  for (const Entry& entry : here->entries) {
    if (auto found = compare(below(entry.key), entry.value.get(), named(*there, entry.key))) return found;
  }
  for (const Entry& entry : there->entries) {
    if (named(*here, entry.key) == nullptr)
      return Difference{below(entry.key), "left out", shown(entry.value.get())};
  }
  return std::nullopt;
}

}  // namespace

std::optional<Difference> first_difference(const std::string& here, const std::string& there) {
  if (here == there) return std::nullopt;
  Faults ignored("");
  const auto a = parse_document(here, ignored), b = parse_document(there, ignored);
  if (!a || !b) return Difference{"", "one text", "another"};
  return compare("", a.get(), b.get());
}

}  // namespace driftglow::scenario
