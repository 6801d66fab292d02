#include "sim/scenario/keys.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <vector>

#include "models/error.hpp"
#include "sim/scenario/document.hpp"
#include "sim/scenario/key_table.hpp"

namespace driftglow::scenario {
namespace {

using Json = nlohmann::ordered_json;
using T = KeyType;

constexpr std::size_t line_width = 100;

std::string wrapped(const std::string& text, const std::string& indent) {
  std::string result, line = indent;
  for (std::size_t start = 0; start < text.size();) {
    const auto end = std::min(text.find(' ', start), text.size());
    const std::string word = text.substr(start, end - start);
    if (line.size() + 1 + word.size() > line_width) {
      result += line + "\n";
      line = indent;
    }
    line += (line.size() > indent.size() ? " " : "") + word;
    start = end + 1;
  }
  return result + line + "\n";
}

std::vector<std::string> symbols(Dimension dimension) {
  std::vector<std::string> list;
  for (const Unit& unit : units())
    if (unit.dimension == dimension) list.emplace_back(unit.symbol);
  return list;
}

std::string condition(const With& with) {
  return fmt::format("with {}: {}", with.key, fmt::join(with.values, " or "));
}

std::string standing(const Key& key) {
  std::string text;
  if (key.need == Need::required)
    text = key.unless.empty() ? "required" : fmt::format("required unless `{}` is given", key.unless);
  else if (key.needed_with)
    text = "required " + condition(*key.needed_with);
  else if (!key.fallback.empty())
    text = fmt::format("default {}", key.fallback);
  else
    text = "optional";
  if (!key.otherwise.empty()) text += fmt::format("; left out: {}", key.otherwise);
  if (key.only_with) text += "; only " + condition(*key.only_with);
  if (!key.excludes.empty()) text += fmt::format("; not beside `{}`", key.excludes);
  return text;
}

std::string type_text(const Key& key) {
  if (key.type == T::count || key.type == T::number || key.type == T::fraction || key.type == T::quantity)
    return expectation_with_range(key);
  if (key.type == T::curve)
    return fmt::format("a list of pairs of {} and {}", info(*key.dimension).noun,
                       info(*key.second_dimension).noun);
  const std::string expected = expectation(key);
  const bool example_follows = key.type != T::text && key.type != T::choice;
  return example_follows ? expected.substr(0, expected.find(" such as ")) : expected;
}

std::string example_line(const Key& key) {
  const bool shown_as_is = key.type == T::block || key.type == T::blocks;
  return shown_as_is ? std::string() : fmt::format("e.g. {}: {}", key.name(), key.example);
}

std::string how_values_are_written() {
  std::string text = "HOW VALUES ARE WRITTEN\n";
  text += wrapped(
      "A physical value is a number and its unit as text: `118 kHz`, `0.2 mm`, `21 degC`. A pure number "
      "takes no unit. A "
      "share is a percentage or a pure number: `5 %` and `0.05` mean the same. A wire is its bare diameter "
      "or a gauge: "
      "`0.2 mm`, `AWG 32`. Numbers have a decimal point and no leading 0. A name has letters, digits, space "
      "and `_ . -`. Items "
      "of a list are counted from 1 in messages, as in tags[2].body. Unknown keys are errors.",
      "  ");
  for (int i = 0; i <= int(Dimension::illuminance); ++i) {
    const auto dimension = Dimension(i);
    const bool used = std::any_of(keys().begin(), keys().end(), [&](const Key& key) {
      return key.dimension == dimension || key.second_dimension == dimension;
    });
    if (!used) continue;
    text += wrapped(fmt::format("{}: {}", info(dimension).noun, fmt::join(symbols(dimension), ", ")), "  ");
  }
  return text;
}

const char number_pattern[] = R"([+-]?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?)";
const char name_pattern[] = "^(?! )[A-Za-z0-9 _.-]{1,80}(?<! )$";
const char fit_pattern[] = R"(^(?! )[A-Za-z0-9 _.-]{1,80}(\|[A-Za-z0-9 _.-]{1,80})?(?<! )$)";

std::string quantity_pattern(Dimension dimension) {
  std::string list;
  for (const std::string& symbol : symbols(dimension)) {
    list += list.empty() ? "" : "|";
    for (const char c : symbol) {
      if (c == '^') list += '\\';
      list += c;
    }
  }
  return fmt::format("^{} *({})$", number_pattern, list);
}

Json quantity_schema(Dimension dimension) {
  return {{"type", "string"}, {"pattern", quantity_pattern(dimension)}};
}

// A bound as the JSON number that the table spells.
Json bound(std::string_view text) {
  return Json::parse(text);
}

Json array_schema(const Json& items, std::size_t count) {
  return {{"type", "array"}, {"items", items}, {"minItems", count}, {"maxItems", count}};
}

Json choice_schema(const Key& key) {
  Json schema;
  for (const auto choice : key.choices) schema["enum"].push_back(choice);
  return schema;
}

Json ranged(const Key& key, const char* type) {
  return {{"type", type}, {"minimum", bound(key.least)}, {"maximum", bound(key.most)}};
}

// Text that holds the value of another key, maybe a pure number.
bool may_be_pure(const Key& key) {
  constexpr std::string_view holders[] = {"study.vary", "bench.unknowns", "bench.readings", "tuned.unknowns"};
  return std::any_of(std::begin(holders), std::end(holders),
                     [&](std::string_view holder) { return key.path.starts_with(holder); });
}

Json block_schema(std::string_view path);

Json value_schema(const Key& key) {
  const Json name{{"type", "string"}, {"pattern", name_pattern}};
  switch (key.type) {
    case T::block:
      return block_schema(key.path);
    case T::blocks:
      return {{"type", "array"}, {"minItems", 1}, {"items", block_schema(key.inside())}};
    case T::blocks_or_names:
      return {{"type", "array"},
              {"minItems", 1},
              {"items", {{"anyOf", Json::array({name, block_schema(key.inside())})}}}};
    case T::fits:
      return {{"type", "array"}, {"minItems", 1}, {"items", {{"type", "string"}, {"pattern", fit_pattern}}}};
    case T::counts_by_fit:
      return {{"type", "object"}, {"additionalProperties", ranged(key, "integer")}};
    case T::values:
      return {{"type", "array"}, {"minItems", 1}, {"items", {{"type", Json::array({"string", "number"})}}}};
    case T::text:
      return {{"type", may_be_pure(key) ? Json::array({"string", "number"}) : Json("string")}};
    case T::name:
      return name;
    case T::choice:
      return choice_schema(key);
    case T::count:
      return ranged(key, "integer");
    case T::number:
      return ranged(key, "number");
    case T::fraction:
      return {{"anyOf",
               Json::array({ranged(key, "number"),
                            {{"type", "string"}, {"pattern", fmt::format("^{} *%$", number_pattern)}}})}};
    case T::quantity:
      return quantity_schema(*key.dimension);
    case T::sense:
      return {{"enum", {1, -1, "+1", "1", "-1"}}};
    case T::light:
      return {{"anyOf", Json::array({choice_schema(key), quantity_schema(*key.dimension)})}};
    case T::wire:
      return {{"anyOf", Json::array({quantity_schema(*key.dimension),
                                     {{"type", "string"}, {"pattern", "^AWG *[0-9]{1,2}$"}}})}};
    case T::place:
      return array_schema(quantity_schema(*key.dimension), 3);
    case T::direction:
      return array_schema({{"type", "number"}}, 3);
    case T::direction_or_choice:
      return {{"anyOf", Json::array({choice_schema(key), array_schema({{"type", "number"}}, 3)})}};
    case T::curve: {
      Json pair = array_schema({}, 2);
      pair.erase("items");
      pair["prefixItems"] =
          Json::array({quantity_schema(*key.dimension), quantity_schema(*key.second_dimension)});
      return {{"type", "array"}, {"minItems", 2}, {"items", pair}};
    }
    case T::chromaticity:
      return array_schema({{"type", "number"}, {"minimum", 0}, {"maximum", 1}}, 2);
  }
  throw LogicError("unknown type of key");
}

// Holds where the condition on the neighbour does; a neighbour left out counts with its default.
Json condition_schema(const With& with, const std::vector<const Key*>& neighbours) {
  const auto key =
      std::find_if(neighbours.begin(), neighbours.end(), [&](const Key* k) { return k->name() == with.key; });
  Json test{{"properties", {{std::string(with.key), {{"enum", with.values}}}}}};
  const bool by_default =
      std::find(with.values.begin(), with.values.end(), (*key)->fallback) != with.values.end();
  if (!by_default) test["required"] = Json::array({with.key});
  return test;
}

Json block_schema(std::string_view path) {
  Json properties = Json::object(), needed = Json::array(), rules = Json::array();
  const auto below = keys_below(path);
  for (const Key* key : below) {
    Json value = value_schema(*key);
    value["description"] = fmt::format("{} ({})", key->meaning, standing(*key));
    properties[std::string(key->name())] = value;
    if (!key->excludes.empty())
      rules.push_back({{"not", {{"required", Json::array({key->name(), key->excludes})}}}});
    const Json present{{"required", Json::array({key->name()})}};
    if (key->needed_with)
      rules.push_back({{"if", condition_schema(*key->needed_with, below)}, {"then", present}});
    if (key->only_with)
      rules.push_back({{"if", present}, {"then", condition_schema(*key->only_with, below)}});
    if (key->need != Need::required) continue;
    if (key->unless.empty() && !key->only_with)
      needed.push_back(key->name());
    else if (key->unless.empty())
      rules.push_back({{"if", condition_schema(*key->only_with, below)}, {"then", present}});
    else if (!key->only_with)
      rules.push_back({{"anyOf", Json::array({present, {{"required", Json::array({key->unless})}}})}});
  }
  Json schema{{"type", "object"}, {"properties", properties}, {"additionalProperties", false}};
  if (!needed.empty()) schema["required"] = needed;
  if (!rules.empty()) schema["allOf"] = rules;
  return schema;
}

}  // namespace

std::string keys_text() {
  std::string text = how_values_are_written();
  std::string group;
  for (const Key& key : keys()) {
    const std::string top(key.path.substr(0, key.path.find_first_of(".[")));
    if (top != group) {
      std::string heading = top;
      std::transform(heading.begin(), heading.end(), heading.begin(),
                     [](char c) { return c == '_' ? ' ' : char(c - 32); });
      text += "\n" + heading + "\n";
      group = top;
    }
    text += fmt::format("  {}\n", key.path);
    text += wrapped(fmt::format("{}; {}.", type_text(key), standing(key)), "      ");
    text += wrapped(fmt::format("{}.", key.meaning), "      ");
    if (const std::string example = example_line(key); !example.empty()) text += "      " + example + "\n";
  }
  return text;
}

nlohmann::ordered_json keys_json_schema() {
  Json schema{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "driftglow scenario"}};
  schema.update(block_schema(""));
  return schema;
}

nlohmann::ordered_json study_keys_json_schema() {
  Json schema{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "driftglow study"}};
  schema.update(block_schema(study_path));
  return schema;
}

nlohmann::ordered_json bench_keys_json_schema() {
  Json schema{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "driftglow readings"}};
  schema.update(block_schema(bench_path));
  return schema;
}

}  // namespace driftglow::scenario
