#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "models/error.hpp"
#include "sim/scenario/check.hpp"

// What the readers of a scenario's blocks share.
namespace driftglow::scenario {

inline std::string millimetres(double length) {
  return fmt::format("{:.4g} mm", length * 1e3);
}

inline Block block_from_text(const std::string& text, const std::string& table_path,
                             const std::string& shown) {
  Faults faults(shown);
  const auto node = parse_document(text, faults);
  if (!node || node->kind != Node::Kind::block) throw LogicError(shown + ": " + faults.text());
  Block block = check_block(*node, table_path, table_path, faults);
  if (!faults.empty()) throw LogicError(faults.text());
  return block;
}

inline std::string in_ticks(const std::vector<std::string>& names) {
  return fmt::format("`{}`", fmt::join(names, "`, `"));
}

template <class Item>
const Item* find_named(const std::vector<Item>& items, const std::string& name) {
  const auto found =
      std::find_if(items.begin(), items.end(), [&](const Item& item) { return item.name == name; });
  return found == items.end() ? nullptr : &*found;
}

}  // namespace driftglow::scenario
