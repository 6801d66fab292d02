#include "sim/scenario/document.hpp"

#include <fmt/format.h>
#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <map>
#include <optional>
#include <sstream>

namespace driftglow::scenario {
namespace {

// Ends reading; the sentence is already among the faults.
struct Stop {};

// Bytes of one UTF-8 character at the start of the text, 0 when it is none (overlong, surrogate, beyond
// U+10FFFF).
std::size_t utf8_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  const auto follows = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
  const unsigned first = byte(0);
  if (first < 0x80) return 1;
  if (first >= 0xC2 && first <= 0xDF && follows(1)) return 2;
  if (first >= 0xE0 && first <= 0xEF && follows(1) && follows(2)) {
    if (first == 0xE0 && byte(1) < 0xA0) return 0;
    if (first == 0xED && byte(1) > 0x9F) return 0;
    return 3;
  }
  if (first >= 0xF0 && first <= 0xF4 && follows(1) && follows(2) && follows(3)) {
    if (first == 0xF0 && byte(1) < 0x90) return 0;
    if (first == 0xF4 && byte(1) > 0x8F) return 0;
    return 4;
  }
  return 0;
}

bool is_control(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return byte < 0x20 || byte == 0x7F;
}

// The place of the first byte that is not text, if any.
std::optional<Place> first_non_text(std::string_view text) {
  Place place;
  while (!text.empty()) {
    const auto length = utf8_length(text);
    const auto first = static_cast<unsigned char>(text.front());
    const bool control = is_control(text.front()) && first != '\t' && first != '\n' && first != '\r';
    if (length == 0 || control) return place;
    if (first == '\n') {
      ++place.line;
      place.column = 1;
    } else {
      ++place.column;
    }
    text.remove_prefix(length);
  }
  return std::nullopt;
}

// A key or unit in quotes may hold any character; a sentence stays on its line.
std::string printable(std::string text) {
  std::replace_if(text.begin(), text.end(), is_control, ' ');
  return text;
}

class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(std::string_view text, Faults& faults) : faults_(faults) {
    for (std::size_t start = 0; start <= text.size();) {
      const auto end = std::min(text.find('\n', start), text.size());
      lines_.push_back(text.substr(start, end - start));
      start = end + 1;
    }
  }

  NodePointer root() const { return root_; }

  // yaml-cpp counts bytes from 0.
  Place place(const YAML::Mark& mark) const {
    if (mark.line < 0) return Place{};
    Place result{mark.line + 1, mark.column + 1};
    if (std::size_t(mark.line) < lines_.size()) {
      const auto before = lines_[std::size_t(mark.line)].substr(0, std::size_t(std::max(mark.column, 0)));
      const auto inner = std::count_if(before.begin(), before.end(), [](char c) {
        return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U;
      });
      result.column -= int(inner);
    }
    return result;
  }

  void OnDocumentStart(const YAML::Mark&) override {}
  void OnDocumentEnd() override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    leaf(mark, anchor, Node::Kind::empty, "");
  }

  // yaml-cpp marks a missing value at the next token; its key says better where it should be.
  Place value_place(const YAML::Mark& mark, Node::Kind kind) const {
    const bool after_key = kind == Node::Kind::empty && !open_.empty() && open_.back().pending;
    return after_key ? open_.back().pending->place : place(mark);
  }

  void OnAlias(const YAML::Mark& mark, YAML::anchor_t anchor) override {
    const auto found = anchored_.find(anchor);
    if (found == anchored_.end())
      stop(mark,
           "an alias stands inside what it points to; expected an anchor that is complete before its use");
    add_nodes(mark, found->second->size);
    place_node(mark, found->second);
  }

  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                const std::string& value) override {
    check_tag(mark, tag);
    const bool plain = tag == "?";
    if (plain && (value == "~" || value == "null"))
      leaf(mark, anchor, Node::Kind::empty, "");
    else
      leaf(mark, anchor, Node::Kind::scalar, value);
  }

  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                       YAML::EmitterStyle::value) override {
    check_tag(mark, tag);
    open(mark, anchor, Node::Kind::list);
  }
  void OnSequenceEnd() override { close(); }

  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  YAML::EmitterStyle::value) override {
    check_tag(mark, tag);
    open(mark, anchor, Node::Kind::block);
  }
  void OnMapEnd() override { close(); }

 private:
  struct Open {
    std::shared_ptr<Node> node;
    YAML::anchor_t anchor;
    YAML::Mark mark;
    std::optional<Entry> pending;  // key read, value to come
    bool key_dropped = false;      // second use of a key: its value is read and forgotten
  };

  [[noreturn]] void stop(const YAML::Mark& mark, const std::string& sentence) {
    faults_.add(place(mark), "", sentence);
    throw Stop{};
  }

  void check_tag(const YAML::Mark& mark, const std::string& tag) {
    if (!tag.empty() && tag != "?" && tag != "!")
      faults_.add(place(mark), "",
                  fmt::format("the YAML tag {} is not used here; expected a plain value", quote(tag)));
  }

  void add_nodes(const YAML::Mark& mark, int count) {
    node_count_ += count;
    if (node_count_ > most_nodes)
      stop(mark,
           fmt::format("the file holds more than {} values once its aliases are written out; expected fewer",
                       most_nodes));
  }

  void leaf(const YAML::Mark& mark, YAML::anchor_t anchor, Node::Kind kind, const std::string& value) {
    auto node = std::make_shared<Node>();
    node->kind = kind;
    node->place = value_place(mark, kind);
    node->scalar = value;
    add_nodes(mark, 1);
    if (anchor != YAML::NullAnchor) anchored_[anchor] = node;
    place_node(mark, node);
  }

  void open(const YAML::Mark& mark, YAML::anchor_t anchor, Node::Kind kind) {
    if (open_.size() >= std::size_t(deepest_nesting))
      stop(mark, fmt::format("blocks and lists are nested deeper than {}; expected a flatter file",
                             deepest_nesting));
    add_nodes(mark, 1);
    auto node = std::make_shared<Node>();
    node->kind = kind;
    node->place = place(mark);
    open_.push_back({node, anchor, mark, std::nullopt, false});
  }

  void close() {
    const Open done = open_.back();
    open_.pop_back();
    if (done.anchor != YAML::NullAnchor) anchored_[done.anchor] = done.node;
    place_node(done.mark, done.node);
  }

  void place_node(const YAML::Mark& mark, const NodePointer& node) {
    if (open_.empty()) {
      root_ = node;
      return;
    }
    Open& parent = open_.back();
    parent.node->size += node->size;
    if (parent.node->kind == Node::Kind::list) {
      parent.node->items.push_back(node);
    } else if (parent.pending) {
      parent.pending->value = node;
      if (!parent.key_dropped) parent.node->entries.push_back(*parent.pending);
      parent.pending.reset();
      parent.key_dropped = false;
    } else {
      take_key(parent, mark, *node);
    }
  }

  void take_key(Open& parent, const YAML::Mark& mark, const Node& node) {
    if (node.kind != Node::Kind::scalar) {
      faults_.add(place(mark), "", "a key is not plain text; expected a key such as `title`");
      parent.key_dropped = true;
    } else {
      for (const Entry& other : parent.node->entries) {
        if (other.key != node.scalar) continue;
        faults_.add(place(mark), path_of(node.scalar),
                    fmt::format("key stands twice in its block, first on line {}; expected it once",
                                other.place.line));
        parent.key_dropped = true;
      }
    }
    parent.pending = Entry{node.scalar, place(mark), nullptr};
  }

  // "tags[2].body.mass" for a key of the innermost open block.
  std::string path_of(const std::string& key) const {
    std::string path;
    for (const Open& block : open_) {
      if (block.node->kind == Node::Kind::list)
        path += fmt::format("[{}]", block.node->items.size() + 1);
      else if (block.pending)
        path += (path.empty() ? "" : ".") + block.pending->key;
    }
    return path + (path.empty() ? "" : ".") + key;
  }

  Faults& faults_;
  std::vector<std::string_view> lines_;
  std::vector<Open> open_;
  std::map<YAML::anchor_t, NodePointer> anchored_;
  NodePointer root_;
  int node_count_ = 0;
};

// Hears a second document: its first event says where it starts.
class SecondDocument : public YAML::EventHandler {
 public:
  std::optional<YAML::Mark> mark;
  void OnDocumentStart(const YAML::Mark& at) override { mark = at; }
  void OnDocumentEnd() override {}
  void OnNull(const YAML::Mark&, YAML::anchor_t) override { throw Stop{}; }
  void OnAlias(const YAML::Mark&, YAML::anchor_t) override { throw Stop{}; }
  void OnScalar(const YAML::Mark&, const std::string&, YAML::anchor_t, const std::string&) override {
    throw Stop{};
  }
  void OnSequenceStart(const YAML::Mark&, const std::string&, YAML::anchor_t,
                       YAML::EmitterStyle::value) override {
    throw Stop{};
  }
  void OnSequenceEnd() override {}
  void OnMapStart(const YAML::Mark&, const std::string&, YAML::anchor_t, YAML::EmitterStyle::value) override {
    throw Stop{};
  }
  void OnMapEnd() override {}
};

// Whether the parser has nothing more; a fault otherwise.
bool is_last_document(YAML::Parser& parser, const TreeBuilder& tree, Faults& faults) {
  SecondDocument second;
  try {
    parser.HandleNextDocument(second);
  } catch (const Stop&) {
  }
  if (second.mark)
    faults.add(tree.place(*second.mark), "",
               "a second YAML document starts here; expected one document a file");
  return !second.mark;
}

}  // namespace

void Faults::add(Place place, const std::string& key, const std::string& sentence) {
  faults_.push_back({place, beginning(place, key) + printable(sentence)});
}

std::string Faults::beginning(Place place, const std::string& key) const {
  return fmt::format("{}:{}:{}: {}{}", file_, place.line, place.column, printable(key),
                     key.empty() ? "" : ": ");
}

std::string Faults::text() const {
  constexpr std::size_t most_shown = 50;
  auto sorted = faults_;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Fault& a, const Fault& b) {
    return std::pair(a.place.line, a.place.column) < std::pair(b.place.line, b.place.column);
  });
  std::string result;
  for (std::size_t i = 0; i < std::min(sorted.size(), most_shown); ++i)
    result += (i == 0 ? "" : "\n") + sorted[i].text;
  if (sorted.size() > most_shown)
    result += fmt::format("\n{}: {} more faults are not shown", file_, sorted.size() - most_shown);
  return result;
}

std::string quote(std::string_view value) {
  constexpr std::size_t longest = 60;
  std::string result = "`";
  std::size_t shown = 0;
  while (!value.empty() && shown < longest) {
    const auto length = std::max<std::size_t>(utf8_length(value), 1);
    if (is_control(value.front()))
      result += ' ';
    else
      result += value.substr(0, length);
    value.remove_prefix(length);
    ++shown;
  }
  return result + (value.empty() ? "`" : "…`");
}

NodePointer parse_document(std::string_view text, Faults& faults) {
  if (text.size() > largest_file) {
    faults.add({}, "", fmt::format("the file has {} bytes; expected at most {}", text.size(), largest_file));
    return nullptr;
  }
  if (const auto place = first_non_text(text)) {
    faults.add(*place, "", "the file is not UTF-8 text from here on; expected a YAML text file");
    return nullptr;
  }
  TreeBuilder tree(text, faults);
  try {
    std::istringstream stream{std::string(text)};
    YAML::Parser parser(stream);
    if (!parser.HandleNextDocument(tree) || !tree.root() || tree.root()->kind == Node::Kind::empty) {
      faults.add({}, "", "the file is empty; expected a YAML block of keys such as `vessel:`");
      return nullptr;
    }
    if (!is_last_document(parser, tree, faults)) return nullptr;
  } catch (const Stop&) {
    return nullptr;
  } catch (const YAML::Exception& error) {
    faults.add(
        tree.place(error.mark), "",
        fmt::format("not valid YAML ({}); expected `key: value` lines, indented with spaces", error.msg));
    return nullptr;
  }
  return tree.root();
}

}  // namespace driftglow::scenario
