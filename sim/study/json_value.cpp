#include "sim/study/json_value.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <charconv>
#include <cmath>
#include <limits>
#include <optional>
#include <string_view>
#include <vector>

#include "sim/scenario/document.hpp"
#include "sim/scenario/key_table.hpp"

namespace driftglow::study {
namespace {

using Json = nlohmann::ordered_json;

std::optional<std::size_t> whole(std::string_view text) {
  std::size_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return number;
}

std::optional<std::string> name_of(const Json& item) {
  for (const char* key : {"name", "tag_design", "emitter", "colour"})
    if (item.is_object() && item.contains(key) && item[key].is_string()) return item[key].get<std::string>();
  return std::nullopt;
}

std::string in_ticks(const std::vector<std::string>& names) {
  return fmt::format("`{}`", fmt::join(names, "`, `"));
}

using Result = std::variant<double, std::string>;

Result at_end(const Json& node) {
  if (node.is_number()) return node.get<double>();
  if (node.is_null()) return std::numeric_limits<double>::quiet_NaN();
  if (node.is_boolean()) return node.get<bool>() ? 1.0 : 0.0;
  if (node.is_object() && node.contains("mean")) return at_end(node["mean"]);
  if (!node.is_object())
    return node.is_array() ? std::string("is a list; expected a number in brackets")
                           : std::string("is text; expected a number");
  std::vector<std::string> keys;
  for (const auto& entry : node.items()) keys.push_back(entry.key());
  return fmt::format("is no number; expected one of {} below it", in_ticks(keys));
}

Result value_at(const Json& node, std::string_view path);

Result below(const Json& node, std::string_view path) {
  return path.starts_with('.') ? value_at(node, path.substr(1)) : value_at(node, path);
}

Result in_list(const Json& node, std::string_view path) {
  const auto close = path.find(']');
  if (close == std::string_view::npos) return std::string("has a bracket that is not closed");
  const auto word = path.substr(1, close - 1);
  const auto rest = path.substr(close + 1);
  if (!node.is_array()) return fmt::format("has brackets at {} where no list is", scenario::quote(path));
  if (const auto dots = word.find(".."); dots != std::string_view::npos && !word.substr(0, dots).empty()) {
    const auto from = whole(word.substr(0, dots));
    const auto to = dots + 2 == word.size() ? std::optional(node.size() - 1) : whole(word.substr(dots + 2));
    if (from && to) {
      double sum = 0.0;
      for (std::size_t i = *from; i <= *to && i < node.size(); ++i) {
        const auto item = below(node[i], rest);
        if (std::holds_alternative<std::string>(item)) return item;
        sum += std::get<double>(item);
      }
      return sum;
    }
  }
  std::vector<std::string> names;
  for (const Json& item : node) {
    if (const auto name = name_of(item)) {
      if (*name == word) return below(item, rest);
      names.push_back(*name);
    }
  }
  if (const auto index = whole(word); index && *index < node.size()) return below(node[*index], rest);
  return fmt::format("has no item {}; expected {}a number from 0 to {}", scenario::quote(word),
                     names.empty() ? "" : in_ticks(names) + " or ", node.size() - 1);
}

Result value_at(const Json& node, std::string_view path) {
  if (path.empty()) return at_end(node);
  if (path.starts_with('[')) return in_list(node, path);
  const auto end = std::min(path.find_first_of(".["), path.size());
  const std::string key(path.substr(0, end));
  if (!node.is_object()) return fmt::format("goes on to {} below a value", scenario::quote(key));
  if (!node.contains(key)) {
    std::vector<std::string> keys;
    for (const auto& entry : node.items()) keys.push_back(entry.key());
    const auto near = scenario::nearest_word(key, keys);
    return fmt::format("has no {}; {}", scenario::quote(key),
                       near ? fmt::format("did you mean `{}`?", *near) : "expected one of " + in_ticks(keys));
  }
  return below(node[key], path.substr(end));
}

}  // namespace

Result json_value(const Json& document, const std::string& path) {
  return value_at(document, path);
}

}  // namespace driftglow::study
