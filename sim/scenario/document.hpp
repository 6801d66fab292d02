#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

// A YAML text as a tree of plain nodes with places. The only room that knows yaml-cpp is document.cpp.
namespace driftglow::scenario {

struct Place {
  int line = 1;    // from 1
  int column = 1;  // from 1, in characters
};

// Faults of one file, gathered to be shown together.
class Faults {
 public:
  explicit Faults(std::string file) : file_(std::move(file)) {}

  // `sentence` without full stop; `key` may be empty.
  void add(Place place, const std::string& key, const std::string& sentence);

  // How the fault of that place and key begins: "file:line:column: key: ".
  std::string beginning(Place place, const std::string& key) const;

  bool empty() const { return faults_.empty(); }

  // One fault a line in the order of the file: "file:line:column: key: sentence". At most 50, then how many
  // more.
  std::string text() const;

 private:
  struct Fault {
    Place place;
    std::string text;
  };
  std::string file_;
  std::vector<Fault> faults_;
};

struct Node;
using NodePointer = std::shared_ptr<const Node>;

struct Entry {
  std::string key;
  Place place;  // of the key
  NodePointer value;
};

struct Node {
  enum class Kind { empty, scalar, list, block };
  Kind kind = Kind::empty;
  Place place;
  std::string scalar;
  std::vector<NodePointer> items;
  std::vector<Entry> entries;  // in the order of the file; no key twice
  int size = 1;                // nodes below and including this one, aliases counted in full
};

inline constexpr std::size_t largest_file = 1 << 20;  // bytes
inline constexpr int deepest_nesting = 64;
inline constexpr int most_nodes = 100'000;

// The tree of a text of one YAML document. Faults of form (not UTF-8, syntax, a key given twice, a second
// document, an alias to itself, beyond the limits above) go to `faults`; after one that stops reading, null.
NodePointer parse_document(std::string_view text, Faults& faults);

// A value as it is quoted in a sentence: shortened, control characters shown as spaces.
std::string quote(std::string_view value);

}  // namespace driftglow::scenario
