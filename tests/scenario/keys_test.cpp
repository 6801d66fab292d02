#include "sim/scenario/keys.hpp"

#include <doctest/doctest.h>

#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "sim/scenario/check.hpp"
#include "sim/scenario/key_table.hpp"

using namespace driftglow::scenario;

TEST_CASE("each key stands once, below a block, and all that it names exists") {
  std::set<std::string_view> paths;
  for (const Key& key : keys()) {
    CAPTURE(key.path);
    CHECK(paths.insert(key.path).second);
    CHECK_FALSE(key.meaning.empty());
    CHECK_FALSE(key.example.empty());
    std::set<std::string_view> neighbours;
    for (const Key* other : keys_below(key.parent())) neighbours.insert(other->name());
    for (const auto name : {key.unless, key.excludes}) CHECK((name.empty() || neighbours.count(name) == 1));
    for (const auto* with : {&key.only_with, &key.needed_with})
      if (*with) CHECK(neighbours.count((*with)->key) == 1);
    const bool parent_exists = key.parent().empty() || paths.count(key.parent()) ||
                               paths.count(key.parent().substr(0, key.parent().size() - 2));
    CHECK(parent_exists);
  }
}

TEST_CASE("examples and defaults of the table pass its own checks") {
  for (const Key& key : keys()) {
    if (key.type == KeyType::block || key.type == KeyType::blocks) continue;
    for (const auto shown : {key.example, key.fallback}) {
      if (shown.empty()) continue;
      Faults faults("table");
      const std::string text = std::string(key.name()) + ": " + std::string(shown);
      const auto node = parse_document(text, faults);
      REQUIRE(node);
      const Block block = check_block(*node, std::string(key.parent()), "", faults);
      CAPTURE(faults.text());
      CAPTURE(key.path);
      CHECK(block.given(key.name()));
      CHECK(faults.text().find(": " + std::string(key.name()) + ": value") == std::string::npos);
    }
  }
}

TEST_CASE("the help shows every key within its width") {
  const std::string text = keys_text();
  for (const Key& key : keys()) CHECK(text.find("  " + std::string(key.path) + "\n") != std::string::npos);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    CAPTURE(line);
    CHECK(line.size() <= 110);  // long examples are not broken
  }
}

TEST_CASE("the schema has every key and forbids others") {
  const auto schema = keys_json_schema(), study = study_keys_json_schema(), bench = bench_keys_json_schema();
  CHECK(schema["$schema"] == "https://json-schema.org/draft/2020-12/schema");
  for (const Key& key : keys()) {
    const auto file = file_of(key.path);
    if (key.path == file) continue;
    const auto* place = file == study_path ? &study : file == bench_path ? &bench : &schema;
    std::string path(file.empty() ? key.path : key.path.substr(file.size() + 1));
    for (std::size_t start = 0; start <= path.size();) {
      const auto end = std::min(path.find('.', start), path.size());
      std::string part = path.substr(start, end - start);
      const bool item = part.ends_with("[]");
      if (item) part.resize(part.size() - 2);
      CAPTURE(key.path);
      REQUIRE(place->contains("properties"));
      CHECK((*place)["additionalProperties"] == false);
      REQUIRE((*place)["properties"].contains(part));
      place = &(*place)["properties"][part];
      if (item) place = &(*place)["items"];
      if (item && place->contains("anyOf")) place = &(*place)["anyOf"][1];
      start = end + 1;
    }
    CHECK(place->contains("description"));
  }
  CHECK(schema["required"] == std::vector<std::string>{"vessel", "drive", "tags", "flight"});
}

TEST_CASE("the nearest word counts a swap as one step") {
  const std::vector<std::string> words{"pressure", "light", "turns"};
  CHECK(nearest_word("presure", words) == "pressure");
  CHECK(nearest_word("ligth", words) == "light");
  CHECK(nearest_word("turn", words) == "turns");
  CHECK_FALSE(nearest_word("colour", words));
  CHECK_FALSE(nearest_word(std::string(100'000, 'x'), words));
}
