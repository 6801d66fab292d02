#include "sim/study/reader.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "models/error.hpp"
#include "sim/scenario/check.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/store/digest.hpp"

namespace driftglow::study {
namespace {

using scenario::Block;
using scenario::Faults;
using scenario::quote;

// Turns the checked blocks of a study file into the study and holds its values against the scenario.
class Binder {
 public:
  Binder(const Block& root, Faults& faults, Study& study, std::string shown)
      : root_(root), faults_(faults), study_(study), shown_(std::move(shown)) {}

  void run() {
    study_.title = root_.text("title");
    if (study_.title.empty()) study_.title = study_.name;
    if (const Block* design = root_.block("design")) this->design(*design);
    for (const Block* block : root_.blocks("vary")) vary(*block);
    size();
    if (const Block* flights = root_.block("flights")) this->flights(*flights);
    for (const Block* block : root_.blocks("outputs")) output(*block);
    goals();
    limits();
    search();
  }

 private:
  void fault(const Block& block, std::string_view key, const std::string& sentence) {
    faults_.add(block.given(key) ? block.place(key) : block.place(), block.path(key), sentence);
  }

  void design(const Block& block) {
    static const std::map<std::string, DesignKind> kinds = {{"grid", DesignKind::grid},
                                                            {"latin_hypercube", DesignKind::latin_hypercube},
                                                            {"sobol", DesignKind::sobol},
                                                            {"sensitivity", DesignKind::sensitivity},
                                                            {"search", DesignKind::search}};
    const auto found = kinds.find(block.text("kind"));
    study_.kind = found == kinds.end() ? DesignKind::grid : found->second;
    study_.samples = block.count("samples");
  }

  // The place of a key in the scenario, once only.
  std::optional<scenario::KeyPlace> place(const Block& block) {
    const std::string path = block.text("key");
    if (path.empty()) return std::nullopt;
    const auto found = scenario::find_key(*study_.base_root, path);
    if (const auto* what = std::get_if<std::string>(&found)) {
      fault(block, "key", fmt::format("{} {}", quote(path), *what));
      return std::nullopt;
    }
    const auto& place = std::get<scenario::KeyPlace>(found);
    for (const auto& [line, other] : taken_) {
      if (other != place.steps) continue;
      fault(block, "key",
            fmt::format("{} is varied on line {} already; expected another key", quote(path), line));
      return std::nullopt;
    }
    taken_.emplace_back(block.place("key").line, place.steps);
    return place;
  }

  // A number with the unit that the variable has.
  std::optional<double> number(const Block& block, std::string_view key, Variable& variable, bool first) {
    const std::string text = block.text(key);
    const auto read = number_and_unit(text);
    if (!read) {
      fault(block, key,
            fmt::format("value {} is no number with a unit; expected one such as `80 mm`", quote(text)));
      return std::nullopt;
    }
    if (first) variable.unit = read->unit;
    if (read->unit == variable.unit) return read->number;
    fault(block, key,
          fmt::format("value {} is not in the unit of what is varied; expected {}", quote(text),
                      variable.unit.empty() ? "a pure number" : fmt::format("it in {}", variable.unit)));
    return std::nullopt;
  }

  void range(const Block& block, Variable& variable) {
    const auto from = number(block, "from", variable, true);
    if (!from) return;
    if (!block.given("to"))
      return fault(block, "from", "stands without `to`; expected the end of the range in `to`");
    const auto to = number(block, "to", variable, false);
    if (!to) return;
    variable.from = *from;
    variable.to = *to;
    variable.scale = block.text("scale") == "logarithmic" ? Scale::logarithmic : Scale::linear;
    if (*from == *to) return fault(block, "to", "is the same as `from`; expected another value");
    if (variable.scale == Scale::logarithmic && (*from <= 0.0 || *to <= 0.0))
      return fault(block, "scale", "is logarithmic for a range that is not above 0; expected `linear`");
    if (study_.kind != DesignKind::grid) return;
    Study one;
    one.variables = {variable};
    const auto steps = block.count("steps");
    for (std::uint64_t i = 0; i < steps; ++i)
      variable.levels.push_back(
          written(one.coordinate(0, static_cast<double>(i) / static_cast<double>(steps - 1)), variable.unit));
  }

  // Levels that are all numbers of one unit can be reckoned with.
  void common_unit(Variable& variable) {
    for (std::size_t i = 0; i < variable.levels.size(); ++i) {
      const auto read = number_and_unit(variable.levels[i]);
      if (!read || (i > 0 && read->unit != variable.unit)) {
        variable.unit.clear();
        return;
      }
      variable.unit = read->unit;
    }
  }

  void link(const Block& block, Variable& variable) {
    auto found = place(block);
    if (!found) return;
    Link link{std::move(*found), block.given("values") ? 1.0 : block.number("factor"), 0.0, {}};
    for (const auto& value : block.values("values")) link.values.push_back(value.text);
    if (!link.values.empty() && link.values.size() != variable.levels.size())
      return fault(block, "values",
                   fmt::format("the list has {} values; expected {}, one for each of `values` beside `links`",
                               link.values.size(), variable.levels.size()));
    if (block.given("offset")) link.offset = number(block, "offset", variable, false).value_or(0.0);
    const bool rule = link.factor != 1.0 || link.offset != 0.0;
    const bool numbers =
        std::all_of(variable.levels.begin(), variable.levels.end(),
                    [](const std::string& level) { return number_and_unit(level).has_value(); });
    if (rule && !numbers)
      return fault(block, "key",
                   "has a factor or an offset where not all values are numbers; expected `values`");
    variable.links.push_back(std::move(link));
  }

  void vary(const Block& block) {
    Variable variable{};
    if (block.given("from")) {
      range(block, variable);
    } else {
      for (const auto& value : block.values("values")) variable.levels.push_back(value.text);
      common_unit(variable);
    }
    if (block.given("links")) {
      for (const Block* one : block.blocks("links")) link(*one, variable);
    } else if (auto found = place(block)) {
      variable.links.push_back({std::move(*found), 1.0, 0.0, {}});
    }
    variable.name = block.text("name");
    if (variable.name.empty() && !variable.links.empty()) variable.name = variable.links.front().place.path;
    for (const auto& other : study_.variables) {
      if (!variable.name.empty() && other.name == variable.name)
        fault(block, "name",
              fmt::format("the name {} is taken already; expected another", quote(variable.name)));
    }
    study_.variables.push_back(std::move(variable));
    values(block);
  }

  // Each value against its key alone: what does not go together shows when the design is made.
  void values(const Block& block) {
    const std::size_t last = study_.variables.size() - 1;
    const auto& variable = study_.variables[last];
    Study one = only(variable);
    std::vector<double> tried;
    if (variable.levels.empty()) {
      if (!block.given("from") || variable.from == variable.to) return;
      tried = {variable.from, variable.to};
    }
    for (std::size_t i = 0; i < variable.levels.size(); ++i) tried.push_back(static_cast<double>(i));
    for (const auto& link : variable.links) {
      for (const double x : tried) {
        const std::string value = text_at(one, link, x);
        const std::string what = scenario::fault_of_value(link.place, value);
        if (what.empty()) continue;
        fault(block, block.given("from") ? "from" : "values", fmt::format("{}: {}", link.place.path, what));
        break;
      }
    }
  }

  Study only(const Variable& variable) const {
    Study one;
    one.base_root = study_.base_root;
    one.variables = {variable};
    return one;
  }

  static std::string text_at(Study& one, const Link& link, double x) {
    one.variables.front().links = {link};
    return scenario::node_at(*one.tree_at({x}), link.place)->scalar;
  }

  void size() {
    double count = study_.kind == DesignKind::grid ? 1.0 : static_cast<double>(study_.samples);
    if (study_.kind == DesignKind::grid)
      for (const std::size_t levels : study_.grid_levels()) count *= static_cast<double>(levels);
    if (study_.kind == DesignKind::sensitivity) count *= static_cast<double>(study_.variables.size()) + 2.0;
    if (count > static_cast<double>(most_designs))
      faults_.add(
          root_.place("vary"), "vary",
          fmt::format("the study has {:.0f} designs; expected at most {}, by fewer values or a sample "
                      "(design.kind: sobol)",
                      count, most_designs));
  }

  void flights(const Block& block) {
    study_.flights = {static_cast<int>(block.count("replicates")), static_cast<int>(block.count("most")),
                      block.maybe("target_interval"),
                      block.text("spend") == "ranks" ? Spend::ranks : Spend::all};
    if (study_.flights.most < study_.flights.replicates)
      fault(
          block, "most",
          fmt::format("is {}, less than the {} replicates that every design flies; expected at least as many",
                      study_.flights.most, study_.flights.replicates));
  }

  void output(const Block& block) {
    Output output{block.text("name"), Document::flight, block.text("path"), {}};
    const auto at = block.place("path");
    output.where = fmt::format("{}:{}:{}: {}: ", shown_, at.line, at.column, block.path("path"));
    if (output.path.starts_with("flight.")) {
      output.path.erase(0, 7);
    } else if (output.path.starts_with("sheet.")) {
      output.document = Document::sheet;
      output.path.erase(0, 6);
    } else if (!output.path.empty()) {
      fault(block, "path",
            fmt::format("value {} begins with no document; expected `flight.` or `sheet.` first",
                        quote(output.path)));
    }
    for (const auto& other : study_.outputs) {
      if (!output.name.empty() && other.name == output.name)
        fault(block, "name",
              fmt::format("the name {} is taken already; expected another", quote(output.name)));
    }
    study_.outputs.push_back(std::move(output));
  }

  std::optional<std::size_t> output_named(const Block& block) {
    const std::string name = block.text("output");
    if (name.empty()) return std::nullopt;
    std::vector<std::string> names;
    for (std::size_t i = 0; i < study_.outputs.size(); ++i) {
      if (study_.outputs[i].name == name) return i;
      names.push_back(study_.outputs[i].name);
    }
    fault(block, "output",
          fmt::format("there is no output {}; expected one of `{}`", quote(name), fmt::join(names, "`, `")));
    return std::nullopt;
  }

  void goals() {
    const auto blocks = root_.blocks("goal");
    for (const Block* block : blocks) {
      if (const auto output = output_named(*block))
        study_.goals.push_back({*output, block->text("want") == "least" ? Want::least : Want::most});
    }
    if (blocks.size() > 2)
      faults_.add(root_.place("goal"), "goal",
                  fmt::format("the list has {} goals; expected one or two", blocks.size()));
    if (study_.goals.empty()) study_.goals.push_back({0, Want::most});
  }

  void limits() {
    for (const Block* block : root_.blocks("subject_to")) {
      const auto output = output_named(*block);
      if (!block->given("least") && !block->given("most"))
        fault(*block, "output", "stands without a limit; expected `least` or `most`");
      if (output) study_.limits.push_back({*output, block->maybe("least"), block->maybe("most")});
    }
  }

  void search() {
    if (study_.kind != DesignKind::search) return;
    const Block& design = *root_.block("design");
    if (study_.goals.size() > 1)
      fault(design, "kind",
            "a search has one goal; expected one, or a sample (sobol) for a Pareto set of two");
    for (const auto& variable : study_.variables) {
      if (!variable.levels.empty())
        fault(design, "kind",
              fmt::format(
                  "a search needs ranges, but `{}` has single values; expected `from` and `to`, or a grid",
                  variable.name));
    }
  }

  const Block& root_;
  Faults& faults_;
  Study& study_;
  std::string shown_;
  std::vector<std::pair<int, decltype(scenario::KeyPlace::steps)>> taken_;  // line, place
};

scenario::NodePointer parsed(const std::string& text, Faults& faults) {
  auto root = scenario::parse_document(text, faults);
  if (root && root->kind != scenario::Node::Kind::block) {
    faults.add(root->place, "",
               "the file is no block of keys; expected keys such as `vary:` at its left edge");
    root = nullptr;
  }
  if (!root) throw InputError(faults.text());
  return root;
}

}  // namespace

Study parse_study(const std::string& text, const std::string& name_shown, const scenario::Scenario& base,
                  const std::filesystem::path& base_file) {
  Faults faults(name_shown);
  const auto root = parsed(text, faults);
  const Block block = scenario::check_block(*root, std::string(scenario::study_path), "", faults);
  Study study{};
  study.name = std::filesystem::path(name_shown).stem().string();
  study.text = text;
  study.hash = store::sha256_hex(text);
  study.base = base;
  study.base_file = base_file;
  study.base_shown = block.text("scenario");
  Faults none(study.base_shown);
  study.base_root = scenario::parse_document(base.text, none);
  Binder(block, faults, study, name_shown).run();
  if (!faults.empty()) throw InputError(faults.text());
  return study;
}

Study read_study(const std::filesystem::path& file, std::optional<std::uint64_t> seed) {
  const std::string text = scenario::file_text(file, "study");
  Faults faults(file.string());
  const auto root = parsed(text, faults);
  const Block block = scenario::check_block(*root, std::string(scenario::study_path), "", faults);
  const std::string named = block.text("scenario");
  if (named.empty()) throw InputError(faults.text());
  const auto path = file.parent_path() / named;
  if (!std::filesystem::exists(path)) {
    faults.add(
        block.place("scenario"), "scenario",
        fmt::format("there is no file {}; expected the path of a scenario, counted from the study's folder",
                    quote(named)));
    throw InputError(faults.text());
  }
  auto base = scenario::read_scenario(path);
  if (seed) base.flight.seed = *seed;
  return parse_study(text, file.string(), base, path);
}

}  // namespace driftglow::study
