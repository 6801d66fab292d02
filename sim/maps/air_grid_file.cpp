#include "sim/maps/air_grid_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>
#include <string_view>

#include "models/error.hpp"
#include "sim/scenario/document.hpp"
#include "sim/scenario/key_table.hpp"
#include "sim/store/digest.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::maps {
namespace {

using scenario::Dimension;
using scenario::quote;

constexpr double usual_length_share = 0.14;  // of the radius, as a column's (Nikuradse)

enum Field { r, z, u_r, u_theta, u_z, k, epsilon, fields };
struct FieldInfo {
  const char* name;
  const char* unit;
  std::optional<Dimension> dimension;  // absent: only the unit itself
  const char* path;                    // in HDF5
  bool needed;
};
const FieldInfo infos[fields] = {{"r", "mm", Dimension::length, "/axes/r", true},
                                 {"z", "mm", Dimension::length, "/axes/z", true},
                                 {"u_r", "m/s", Dimension::speed, "/mean/u_r", false},
                                 {"u_theta", "m/s", Dimension::speed, "/mean/u_theta", true},
                                 {"u_z", "m/s", Dimension::speed, "/mean/u_z", true},
                                 {"k", "m2/s2", Dimension::specific_energy, "/turbulence/k", false},
                                 {"epsilon", "m2/s3", std::nullopt, "/turbulence/epsilon", false}};

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

struct CsvColumn {
  Field field;
  double factor;  // to SI
};

std::string header_example() {
  return "`r [mm], z [mm], u_r [m/s], u_theta [m/s], u_z [m/s], k [m2/s2], epsilon [m2/s3]`";
}

CsvColumn column_of(std::string_view cell, const std::string& file, int line) {
  const auto open = cell.find('['), close = cell.rfind(']');
  const std::string_view name = trimmed(cell.substr(0, open));
  const auto found =
      std::find_if(std::begin(infos), std::end(infos), [&](const auto& i) { return name == i.name; });
  if (found == std::end(infos))
    refuse(file, line, "column {} is not known; expected a header such as {}", quote(name), header_example());
  const std::string_view unit =
      open == std::string_view::npos || close == std::string_view::npos || close < open
          ? std::string_view{}
          : trimmed(cell.substr(open + 1, close - open - 1));
  const auto bad_unit = [&] {
    refuse(file, line, "column `{}` has {}; expected a unit in brackets such as `{} [{}]`", found->name,
           unit.empty() ? "no unit" : "the unit " + quote(unit), found->name, found->unit);
  };
  const Field field = static_cast<Field>(found - std::begin(infos));
  if (!found->dimension) {
    if (unit != found->unit) bad_unit();
    return {field, 1.0};
  }
  const auto one = scenario::parse_quantity("1 " + std::string(unit), *found->dimension);
  const double* factor = std::get_if<double>(&one);
  if (unit.empty() || factor == nullptr) bad_unit();
  return {field, *factor};
}

struct Row {
  int line;
  double value[fields];
};

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

// The distinct values of an axis, rising; equal within a millionth of its end.
std::vector<double> distinct(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const double tolerance = 1e-6 * std::max(std::fabs(values.front()), std::fabs(values.back()));
  values.erase(
      std::unique(values.begin(), values.end(), [&](double a, double b) { return b - a <= tolerance; }),
      values.end());
  return values;
}

Eigen::Index nearest(const std::vector<double>& axis, double value) {
  const auto above = std::lower_bound(axis.begin(), axis.end(), value);
  if (above == axis.end()) return static_cast<Eigen::Index>(axis.size()) - 1;
  if (above == axis.begin()) return 0;
  return (above - axis.begin()) - (value - above[-1] < *above - value ? 1 : 0);
}

struct Table {
  std::vector<double> r, z;
  std::optional<Eigen::MatrixXd> values[fields];
};

Table gridded(const std::vector<Row>& rows, const bool (&has)[fields], const std::string& file) {
  std::vector<double> all_r, all_z;
  for (const Row& row : rows) all_r.push_back(row.value[r]), all_z.push_back(row.value[z]);
  Table table{distinct(all_r), distinct(all_z), {}};
  const auto n_r = static_cast<Eigen::Index>(table.r.size()), n_z = static_cast<Eigen::Index>(table.z.size());
  if (n_r * n_z > 1000000)
    refuse(file, rows.front().line,
           "the nodes make no grid of r and z: they hold {} different r and {} different z; expected a grid, "
           "every r with every z",
           n_r, n_z);
  Eigen::MatrixXi line = Eigen::MatrixXi::Zero(n_r, n_z);
  for (int f = u_r; f < fields; ++f)
    if (has[f]) table.values[f] = Eigen::MatrixXd::Zero(n_r, n_z);
  for (const Row& row : rows) {
    const Eigen::Index i = nearest(table.r, row.value[r]), j = nearest(table.z, row.value[z]);
    if (line(i, j) != 0)
      refuse(file, row.line,
             "the node at r = {:.6g} mm, z = {:.6g} mm stands on line {} already; expected it once",
             1e3 * table.r[i], 1e3 * table.z[j], line(i, j));
    line(i, j) = row.line;
    for (int f = u_r; f < fields; ++f)
      if (has[f]) (*table.values[f])(i, j) = row.value[f];
  }
  for (Eigen::Index i = 0; i < n_r; ++i) {
    for (Eigen::Index j = 0; j < n_z; ++j) {
      if (line(i, j) == 0)
        refuse(file, rows.back().line,
               "the node at r = {:.6g} mm, z = {:.6g} mm is missing ({} r and {} z make {} nodes, the file "
               "has {}); "
               "expected a full grid, every r with every z",
               1e3 * table.r[i], 1e3 * table.z[j], n_r, n_z, n_r * n_z, rows.size());
    }
  }
  return table;
}

Table read_csv(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::vector<CsvColumn> columns;
  std::vector<Row> rows;
  bool has[fields] = {};
  int line = 0;
  for (std::string text; std::getline(stream, text);) {
    ++line;
    const auto content = trimmed(text);
    if (content.empty() || content.front() == '#') continue;
    const auto parts = cells(content);
    if (columns.empty()) {
      for (const auto part : parts) {
        columns.push_back(column_of(part, file, line));
        if (std::exchange(has[columns.back().field], true))
          refuse(file, line, "column `{}` stands twice; expected it once", infos[columns.back().field].name);
      }
      for (int f = 0; f < fields; ++f)
        if (infos[f].needed && !has[f])
          refuse(file, line, "column `{}` is missing; expected a header such as {}", infos[f].name,
                 header_example());
      continue;
    }
    if (parts.size() != columns.size())
      refuse(file, line, "the line has {} values; expected {} as in the header", parts.size(),
             columns.size());
    Row row{line, {}};
    for (std::size_t c = 0; c < columns.size(); ++c)
      row.value[columns[c].field] =
          columns[c].factor * number_of(parts[c], infos[columns[c].field].name, file, line);
    for (const Field f : {r, k, epsilon})
      if (row.value[f] < 0.0)
        refuse(file, line, "column `{}` is below 0; expected at least 0", infos[f].name);
    rows.push_back(row);
  }
  if (rows.empty())
    refuse(file, std::max(line, 1), "the file holds no nodes; expected a header such as {} and a node a line",
           header_example());
  return gridded(rows, has, file);
}

Table read_hdf5(const std::string& file) {
  const store::Reader reader(file, "expected /axes/r, /axes/z [m] and /mean/u_theta, u_z [m/s] as in air.h5",
                             store::Seal::optional);
  const auto fault = [&](const std::string& what) { throw InputError(file + ": " + what); };
  Table table;
  table.r = reader.read<double>(infos[r].path, 1).values;
  table.z = reader.read<double>(infos[z].path, 1).values;
  for (const auto* axis : {&table.r, &table.z}) {
    const bool finite = std::all_of(axis->begin(), axis->end(), [](double x) { return std::isfinite(x); });
    if (!finite || std::adjacent_find(axis->begin(), axis->end(), std::greater_equal<>()) != axis->end())
      fault(std::string(axis == &table.r ? infos[r].path : infos[z].path) +
            " does not rise; expected rising nodes");
  }
  for (int f = u_r; f < fields; ++f) {
    const char* path = infos[f].path;
    if (!infos[f].needed && !reader.has(path)) continue;
    const auto stored = reader.read<double>(path, 2);
    if (stored.extents[0] != table.r.size() || stored.extents[1] != table.z.size())
      fault(fmt::format("{} has {} x {} values; expected [r][z], {} x {}", path, stored.extents[0],
                        stored.extents[1], table.r.size(), table.z.size()));
    table.values[f] =
        Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
            stored.values.data(), static_cast<Eigen::Index>(stored.extents[0]),
            static_cast<Eigen::Index>(stored.extents[1]));
    if (!table.values[f]->allFinite())
      fault(fmt::format("{} has a value that is not finite; expected a finite number at every node", path));
    if ((f == k || f == epsilon) && table.values[f]->minCoeff() < 0.0)
      fault(fmt::format("{} has a value below 0; expected none", path));
  }
  return table;
}

std::string first_bytes(const std::string& file) {
  std::error_code error;
  const auto type = std::filesystem::status(file, error).type();
  if (type == std::filesystem::file_type::not_found)
    throw InputError(
        file +
        ": the file of the air does not exist; expected a CSV or HDF5 file, from the scenario's folder");
  std::ifstream stream(file, std::ios::binary);
  if (type != std::filesystem::file_type::regular || !stream)
    throw InputError(file + ": the file of the air cannot be read; expected a readable CSV or HDF5 file");
  constexpr std::uintmax_t most = std::uintmax_t{1} << 28;
  if (std::filesystem::file_size(file, error) > most)
    throw InputError(file +
                     ": the file of the air is longer than 256 MiB; expected a coarser grid (at most 48 x 64 "
                     "cells are used)");
  std::string bytes(4, '\0');
  stream.read(bytes.data(), 4);
  return bytes;
}

}  // namespace

air::AirGrid read_air_grid(const scenario::GriddedAir& given, double radius, double height) {
  Table table = first_bytes(given.file) == "\x89HDF" ? read_hdf5(given.file) : read_csv(given.file);
  if (table.values[epsilon] && !table.values[k])
    throw InputError(given.file + ": there is epsilon but no k; expected both, or no epsilon");
  return {radius,
          height,
          std::move(table.r),
          std::move(table.z),
          std::move(table.values[u_r]),
          std::move(*table.values[u_theta]),
          std::move(*table.values[u_z]),
          std::move(table.values[k]),
          std::move(table.values[epsilon]),
          given.turbulence_intensity,
          given.turbulence_floor,
          given.length_scale.value_or(usual_length_share * radius),
          given.open_above};
}

std::string file_digest(const std::string& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return store::sha256_hex(text.str());
}

}  // namespace driftglow::maps
