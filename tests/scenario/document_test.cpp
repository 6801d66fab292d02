#include "sim/scenario/document.hpp"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <string>
#include <vector>

#include "tests/contains.hpp"

using namespace driftglow::scenario;

namespace {

std::string document_faults(const std::string& text) {
  Faults faults("f");
  parse_document(text, faults);
  return faults.text();
}

}  // namespace

TEST_CASE("a tree with places") {
  Faults faults("f");
  const auto root = parse_document("a: 1\nb:\n  - x\n  - {c: d}\n", faults);
  REQUIRE(root);
  CHECK(faults.empty());
  REQUIRE(root->entries.size() == 2);
  CHECK(root->entries[1].key == "b");
  CHECK(root->entries[1].place.line == 2);
  const auto& item = *root->entries[1].value->items[1];
  CHECK(item.entries[0].value->scalar == "d");
  CHECK(item.entries[0].place.line == 4);
  CHECK(item.entries[0].place.column == 6);
}

TEST_CASE("columns count characters, not bytes") {
  Faults faults("f");
  const auto root = parse_document("{\u00b5\u00b5: 1, b: 2}\n", faults);
  REQUIRE(root);
  CHECK(root->entries[1].place.column == 9);
}

TEST_CASE("aliases stand for their anchor, in full and within the limits") {
  Faults faults("f");
  const auto root = parse_document("a: &x {k: 1}\nb: *x\n", faults);
  REQUIRE(root);
  CHECK(root->entries[1].value->entries[0].value->scalar == "1");
  CHECK(contains(document_faults("a: &x [*x]\n"), "f:1:8: an alias stands inside what it points to"));
  std::string bomb = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n";
  for (int i = 1; i < 12; ++i) {
    const std::string last = fmt::format("*a{}", i - 1);
    bomb += fmt::format("a{}: &a{} [{}]\n", i, i, fmt::join(std::vector<std::string>(10, last), ", "));
  }
  CHECK(contains(document_faults(bomb), "more than 100000 values"));
}

TEST_CASE("depth and size are capped") {
  CHECK(contains(document_faults(std::string(65, '[') + std::string(65, ']')), "nested deeper than 64"));
  CHECK(document_faults(std::string(64, '[') + std::string(64, ']')).empty());
  CHECK(contains(document_faults(std::string(100'000, '[')), "nested deeper than 64"));
  CHECK(contains(document_faults("a: " + std::string(largest_file, 'x')), "expected at most 1048576"));
}

TEST_CASE("what is no YAML text is refused with its place") {
  CHECK(contains(document_faults(std::string("a: 1\nb: \xff\n")), "f:2:4: the file is not UTF-8 text"));
  CHECK(contains(document_faults(std::string("a\0b", 3)), "f:1:2: the file is not UTF-8 text"));
  CHECK(contains(document_faults("a: \xc0\xaf"), "not UTF-8"));          // overlong
  CHECK(contains(document_faults("a: \xed\xa0\x80"), "not UTF-8"));      // surrogate
  CHECK(contains(document_faults("a: \xf4\x90\x80\x80"), "not UTF-8"));  // beyond U+10FFFF
  CHECK(contains(document_faults(""), "the file is empty"));
  CHECK(contains(document_faults("# nothing\n"), "the file is empty"));
  CHECK(contains(document_faults("a: [1, 2\n"), "not valid YAML"));
  CHECK(contains(document_faults("a:\n\tb: 1\n"), "not valid YAML"));
  CHECK(contains(document_faults("a: 1\n---\nb: 2\n"), "f:2:1: a second YAML document"));
  CHECK(contains(document_faults("a: !!float 1\n"), "the YAML tag"));
  CHECK(contains(document_faults("[a]: 1\n"), "a key is not plain text"));
}

TEST_CASE("faults come in the order of the file, and not too many") {
  Faults faults("f");
  faults.add({3, 1}, "b", "second");
  faults.add({1, 5}, "a", "first");
  CHECK(faults.text() == "f:1:5: a: first\nf:3:1: b: second");
  for (int i = 0; i < 60; ++i) faults.add({9, 1}, "c", "more");
  CHECK(contains(faults.text(), "f: 12 more faults are not shown"));
}
