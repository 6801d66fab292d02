#include "sim/library/wire.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "models/error.hpp"
#include "sim/library/library.hpp"

namespace driftglow::library {
namespace {

double number_from(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size())
    throw LogicError("data/wire: not a number: " + std::string(text));
  return value;
}

std::vector<std::pair<double, double>> read_table() {
  constexpr double millimetre = 1e-3;
  std::vector<std::pair<double, double>> table;
  std::string_view rest = enamelled_diameter_csv();
  while (!rest.empty()) {
    const std::string_view line = rest.substr(0, rest.find('\n'));
    rest.remove_prefix(std::min(rest.size(), line.size() + 1));
    if (line.empty() || line.front() < '0' || line.front() > '9') continue;  // comment or heading
    const auto comma = line.find(',');
    table.emplace_back(number_from(line.substr(0, comma)) * millimetre,
                       number_from(line.substr(comma + 1)) * millimetre);
  }
  return table;
}

}  // namespace

double gauge_diameter(int gauge) {
  if (gauge < 0 || gauge > 56) throw LogicError("wire gauge outside 0 to 56");
  return 0.127e-3 * std::pow(92., (36 - gauge) / 39.);
}

const std::vector<std::pair<double, double>>& enamelled_diameter_table() {
  static const auto table = read_table();
  return table;
}

double enamelled_diameter(double bare_diameter) {
  if (!(bare_diameter > 0)) throw LogicError("bare wire diameter must be positive");
  const auto& table = enamelled_diameter_table();
  const auto ratio = [&](const auto& row) { return bare_diameter * row.second / row.first; };
  if (bare_diameter <= table.front().first) return ratio(table.front());
  if (bare_diameter >= table.back().first) return ratio(table.back());
  const auto above = std::upper_bound(table.begin(), table.end(), bare_diameter,
                                      [](double d, const auto& row) { return d < row.first; });
  const auto below = above - 1;
  const double share = (bare_diameter - below->first) / (above->first - below->first);
  return bare_diameter + std::lerp(below->second - below->first, above->second - above->first, share);
}

}  // namespace driftglow::library
