#include "sim/maps/node_file.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string_view>
#include <utility>

#include "models/error.hpp"
#include "sim/scenario/document.hpp"
#include "sim/store/digest.hpp"
#include "sim/store/hdf5_file.hpp"
#include "sim/store/plausible.hpp"

namespace driftglow::maps {
namespace {

using scenario::quote;

template <class... Parts>
[[noreturn]] void refuse(const std::string& file, int line, fmt::format_string<Parts...> text,
                         Parts&&... parts) {
  throw InputError(fmt::format("{}:{}: {}", file, line, fmt::format(text, std::forward<Parts>(parts)...)));
}

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

std::vector<std::string_view> cells(std::string_view line) {
  std::vector<std::string_view> result;
  for (std::size_t start = 0;;) {
    const auto comma = line.find(',', start);
    result.push_back(trimmed(line.substr(start, comma - start)));
    if (comma == std::string_view::npos) return result;
    start = comma + 1;
  }
}

double number_of(std::string_view cell, const char* name, const std::string& file, int line) {
  double value = 0.0;
  const auto [end, fault] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (cell.empty() || fault != std::errc{} || end != cell.data() + cell.size())
    refuse(file, line, "column `{}` holds {}; expected a number with a decimal point", name, quote(cell));
  if (!std::isfinite(value))
    refuse(file, line,
           "column `{}` holds {}; expected a finite number at every node (fill gaps before, or leave out "
           "the whole line of nodes)",
           name, quote(cell));
  return value;
}

void expect_plausible(double value, const char* name, const std::string& file, int line) {
  if (!store::plausible(value))
    refuse(file, line, "column `{}` holds {:g}; expected at most 1e12 in SI units", name, value);
}

// The distinct values of an axis, rising; equal within a millionth of its end.
std::vector<double> distinct(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const double tolerance = 1e-6 * std::max(std::fabs(values.front()), std::fabs(values.back()));
  values.erase(
      std::unique(values.begin(), values.end(), [&](double a, double b) { return b - a <= tolerance; }),
      values.end());
  return values;
}

std::size_t nearest(const std::vector<double>& axis, double value) {
  const auto above = std::lower_bound(axis.begin(), axis.end(), value);
  if (above == axis.end()) return axis.size() - 1;
  if (above == axis.begin()) return 0;
  return static_cast<std::size_t>(above - axis.begin()) - (value - above[-1] < *above - value ? 1 : 0);
}

class Reading {
 public:
  Reading(const std::string& file, std::span<const NodeColumn> columns, const NodeWords& words)
      : file_(file), columns_(columns), words_(words) {}

  NodeGrid csv() {
    std::ifstream stream(file_, std::ios::binary);
    int line = 0;
    std::vector<std::string> faults;
    for (std::string text; std::getline(stream, text);) {
      ++line;
      const auto content = trimmed(text);
      if (content.empty() || content.front() == '#') continue;
      const auto parts = cells(content);
      if (given_.empty()) {
        header(parts, line);
        continue;
      }
      try {
        row(parts, line);
      } catch (const InputError& error) {
        faults.push_back(error.what());
        if (faults.size() == most_faults) break;
      }
    }
    if (!faults.empty()) throw InputError(fmt::format("{}", fmt::join(faults, "\n")));
    if (rows_.empty())
      refuse(file_, std::max(line, 1),
             "the file holds no nodes; expected a header such as {} and a node a line", words_.header);
    return gridded();
  }

  NodeGrid hdf5() const {
    const store::Reader reader(file_, words_.layout, store::Seal::optional);
    const auto fault = [&](const std::string& what) { throw InputError(file_ + ": " + what); };
    NodeGrid grid{std::vector<std::vector<double>>(columns_.size()),
                  std::vector<std::optional<std::vector<double>>>(columns_.size()), 1};
    std::vector<std::size_t> extents;
    std::vector<const char*> names;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
      const auto& column = columns_[c];
      if (!column.is_axis || (!column.needed && !reader.has(column.path))) continue;
      auto& axis = grid.axes[c];
      axis = reader.read<double>(column.path, 1).values;
      if (axis.empty() || !std::all_of(axis.begin(), axis.end(), store::plausible) ||
          std::adjacent_find(axis.begin(), axis.end(), std::greater_equal<>()) != axis.end())
        fault(std::string(column.path) + " does not rise; expected rising nodes");
      extents.push_back(axis.size());
      names.push_back(column.name);
      grid.nodes *= axis.size();
    }
    for (std::size_t c = 0; c < columns_.size(); ++c) {
      const auto& column = columns_[c];
      if (column.is_axis || (!column.needed && !reader.has(column.path))) continue;
      auto stored = reader.read<double>(column.path, static_cast<int>(extents.size()));
      if (!std::equal(extents.begin(), extents.end(), stored.extents.begin(), stored.extents.end()))
        fault(fmt::format("{} has {} values; expected [{}], {}", column.path,
                          fmt::join(stored.extents, " x "), fmt::join(names, "]["),
                          fmt::join(extents, " x ")));
      for (const double value : stored.values) {
        if (!std::isfinite(value))
          fault(fmt::format("{} has a value that is not finite; expected a finite number at every node",
                            column.path));
        if (!store::plausible(value))
          fault(fmt::format("{} has a value beyond 1e12; expected less", column.path));
        if (value < column.least) fault(fmt::format("{} has a value below 0; expected none", column.path));
      }
      grid.values[c] = std::move(stored.values);
    }
    return grid;
  }

 private:
  struct Given {
    std::size_t column;
    double factor;  // to SI
  };
  struct Row {
    int line;
    std::vector<double> values;  // SI, as the given columns
  };

  void header(const std::vector<std::string_view>& parts, int line) {
    for (const auto part : parts) {
      given_.push_back(column_of(part, line));
      const auto same = [&](const Given& other) { return other.column == given_.back().column; };
      if (std::count_if(given_.begin(), given_.end(), same) > 1)
        refuse(file_, line, "column `{}` stands twice; expected it once",
               columns_[given_.back().column].name);
    }
    for (std::size_t c = 0; c < columns_.size(); ++c)
      if (columns_[c].needed && !is_given(c))
        refuse(file_, line, "column `{}` is missing; expected a header such as {}", columns_[c].name,
               words_.header);
    if (std::none_of(given_.begin(), given_.end(),
                     [&](const Given& g) { return columns_[g.column].is_axis; }))
      refuse(file_, line, "the header has no column that says where; expected one such as {}", words_.header);
  }

  bool is_given(std::size_t column) const {
    return std::any_of(given_.begin(), given_.end(), [&](const Given& g) { return g.column == column; });
  }

  Given column_of(std::string_view cell, int line) const {
    const auto open = cell.find('['), close = cell.rfind(']');
    const std::string_view name = trimmed(cell.substr(0, open));
    const auto found =
        std::find_if(columns_.begin(), columns_.end(), [&](const auto& c) { return name == c.name; });
    if (found == columns_.end())
      refuse(file_, line, "column {} is not known; expected a header such as {}", quote(name), words_.header);
    const std::string_view unit =
        open == std::string_view::npos || close == std::string_view::npos || close < open
            ? std::string_view{}
            : trimmed(cell.substr(open + 1, close - open - 1));
    const auto bad_unit = [&] {
      refuse(file_, line, "column `{}` has {}; expected a unit in brackets such as `{} [{}]`", found->name,
             unit.empty() ? "no unit" : "the unit " + quote(unit), found->name, found->unit);
    };
    const auto column = static_cast<std::size_t>(found - columns_.begin());
    if (!found->dimension) {
      if (unit != found->unit) bad_unit();
      return {column, 1.0};
    }
    const auto one = scenario::parse_quantity("1 " + std::string(unit), *found->dimension);
    const double* factor = std::get_if<double>(&one);
    if (unit.empty() || factor == nullptr) bad_unit();
    return {column, *factor};
  }

  void row(const std::vector<std::string_view>& parts, int line) {
    if (parts.size() != given_.size())
      refuse(file_, line, "the line has {} values; expected {} as in the header", parts.size(),
             given_.size());
    Row row{line, {}};
    for (std::size_t c = 0; c < given_.size(); ++c) {
      const auto& column = columns_[given_[c].column];
      row.values.push_back(given_[c].factor * number_of(parts[c], column.name, file_, line));
      expect_plausible(row.values.back(), column.name, file_, line);
      if (row.values.back() < column.least)
        refuse(file_, line, "column `{}` is below 0; expected at least 0", column.name);
    }
    rows_.push_back(std::move(row));
  }

  NodeGrid gridded() const {
    NodeGrid grid{std::vector<std::vector<double>>(columns_.size()),
                  std::vector<std::optional<std::vector<double>>>(columns_.size()), 1};
    struct Axis {
      std::size_t given, column;
    };
    std::vector<Axis> axes;  // in the columns' order
    for (std::size_t c = 0; c < columns_.size(); ++c)
      for (std::size_t g = 0; g < given_.size(); ++g)
        if (given_[g].column == c && columns_[c].is_axis) axes.push_back({g, c});
    std::vector<std::string> names, counts, lengths;
    for (const auto& axis : axes) {
      std::vector<double> all;
      for (const Row& row : rows_) all.push_back(row.values[axis.given]);
      auto& nodes = grid.axes[axis.column];
      nodes = distinct(std::move(all));
      grid.nodes *= nodes.size();
      names.emplace_back(columns_[axis.column].name);
      counts.push_back(fmt::format("{} different {}", nodes.size(), columns_[axis.column].name));
      lengths.push_back(fmt::format("{} {}", nodes.size(), columns_[axis.column].name));
      if (grid.nodes > most_nodes) break;
    }
    const std::string full = fmt::format("every {}", fmt::join(names, " with every "));
    if (grid.nodes > most_nodes)
      refuse(file_, rows_.front().line, "the nodes make no grid of {}: they hold {}; expected a grid, {}",
             fmt::join(names, " and "), fmt::join(counts, " and "), full);
    const auto place_of = [&](std::size_t node) {
      std::vector<std::string> at;
      for (auto axis = axes.rbegin(); axis != axes.rend(); ++axis) {
        const auto& nodes = grid.axes[axis->column];
        at.insert(at.begin(), fmt::format("{} = {:.6g} mm", columns_[axis->column].name,
                                          1e3 * nodes[node % nodes.size()]));
        node /= nodes.size();
      }
      return fmt::format("{}", fmt::join(at, ", "));
    };
    for (const auto& g : given_)
      if (!columns_[g.column].is_axis) grid.values[g.column] = std::vector<double>(grid.nodes, 0.0);
    std::vector<int> line(grid.nodes, 0);
    for (const Row& row : rows_) {
      std::size_t node = 0;
      for (const auto& axis : axes) {
        const auto& nodes = grid.axes[axis.column];
        node = node * nodes.size() + nearest(nodes, row.values[axis.given]);
      }
      if (line[node] != 0)
        refuse(file_, row.line, "the node at {} stands on line {} already; expected it once", place_of(node),
               line[node]);
      line[node] = row.line;
      for (std::size_t g = 0; g < given_.size(); ++g)
        if (!columns_[given_[g].column].is_axis) (*grid.values[given_[g].column])[node] = row.values[g];
    }
    const auto missing = std::find(line.begin(), line.end(), 0);
    if (missing != line.end())
      refuse(file_, rows_.back().line,
             "the node at {} is missing ({} make {} nodes, the file has {}); expected a full grid, {}",
             place_of(static_cast<std::size_t>(missing - line.begin())), fmt::join(lengths, " and "),
             grid.nodes, rows_.size(), full);
    return grid;
  }

  static constexpr std::size_t most_nodes = 1000000, most_faults = 10;
  const std::string& file_;
  std::span<const NodeColumn> columns_;
  const NodeWords& words_;
  std::vector<Given> given_;
  std::vector<Row> rows_;
};

std::string first_bytes(const std::string& file, const NodeWords& words) {
  std::error_code error;
  const auto type = std::filesystem::status(file, error).type();
  if (type == std::filesystem::file_type::not_found)
    throw InputError(
        fmt::format("{}{}: {} does not exist; expected a CSV or HDF5 file, from the scenario's folder",
                    words.where, file, words.what));
  std::ifstream stream(file, std::ios::binary);
  if (type != std::filesystem::file_type::regular || !stream)
    throw InputError(fmt::format("{}{}: {} cannot be read; expected a readable CSV or HDF5 file", words.where,
                                 file, words.what));
  constexpr std::uintmax_t most = std::uintmax_t{1} << 28;
  if (std::filesystem::file_size(file, error) > most)
    throw InputError(fmt::format("{}{}: {} is longer than 256 MiB; expected a coarser grid {}", words.where,
                                 file, words.what, words.coarser));
  std::string bytes(4, '\0');
  stream.read(bytes.data(), 4);
  return bytes;
}

}  // namespace

NodeGrid read_node_file(const std::string& file, std::span<const NodeColumn> columns,
                        const NodeWords& words) {
  Reading reading(file, columns, words);
  return first_bytes(file, words) == "\x89HDF" ? reading.hdf5() : reading.csv();
}

std::string file_digest(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return store::sha256_hex(text.str());
}

}  // namespace driftglow::maps
