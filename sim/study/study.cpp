#include "sim/study/study.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/error.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/statistics/sampling.hpp"

namespace driftglow::study {
namespace {

std::size_t level_at(const Variable& variable, double coordinate) {
  return std::min(static_cast<std::size_t>(coordinate), variable.levels.size() - 1);
}

bool counts_things(const Link& link) {
  using T = scenario::KeyType;
  return link.place.key->type == T::count || link.place.key->type == T::counts_by_fit;
}

std::string value_of(const Variable& variable, const Link& link, double coordinate) {
  std::string unit = variable.unit;
  double number = coordinate;
  if (!variable.levels.empty()) {
    const std::size_t level = level_at(variable, coordinate);
    if (!link.values.empty()) return link.values[level];
    if (link.factor == 1.0 && link.offset == 0.0) return variable.levels[level];
    number = number_and_unit(variable.levels[level])->number;
  }
  number = link.offset + link.factor * number;
  return written(counts_things(link) ? std::round(number) : number, unit);
}

}  // namespace

Numbers Variable::numbers() const {
  return std::any_of(links.begin(), links.end(), counts_things) ? Numbers::whole : Numbers::any;
}

int Flights::next_count(int flown) const {
  constexpr int pack = 16;
  return std::min(most, flown + std::max(pack, flown / 2 / pack * pack));
}

int Flights::looks() const {
  if (spend == Spend::all) return 1;
  int looks = 1;
  for (int flown = replicates; flown < most; flown = next_count(flown)) ++looks;
  return looks;
}

std::vector<std::size_t> Study::grid_levels() const {
  std::vector<std::size_t> levels;
  for (const auto& variable : variables) levels.push_back(variable.levels.size());
  return levels;
}

double Study::coordinate(std::size_t index, double share) const {
  const Variable& variable = variables[index];
  if (!variable.levels.empty()) {
    const auto count = static_cast<double>(variable.levels.size());
    return std::min(std::floor(share * count), count - 1.0);
  }
  const double number = variable.scale == Scale::logarithmic
                            ? variable.from * std::pow(variable.to / variable.from, share)
                            : std::lerp(variable.from, variable.to, share);
  return variable.numbers() == Numbers::whole ? std::round(number) : number;
}

std::vector<Coordinates> Study::planned() const {
  std::vector<Coordinates> designs;
  const std::size_t axes = variables.size();
  const auto placed = [&](const std::vector<double>& point, std::size_t first) {
    Coordinates design;
    for (std::size_t k = 0; k < axes; ++k) design.push_back(coordinate(k, point[first + k]));
    return design;
  };
  switch (kind) {
    case DesignKind::grid: {
      std::size_t count = 1;
      for (const std::size_t levels : grid_levels()) count *= levels;
      for (std::size_t i = 0; i < count; ++i) {
        Coordinates design(axes);
        std::size_t rest = i;
        for (std::size_t k = axes; k-- > 0; rest /= variables[k].levels.size())
          design[k] = static_cast<double>(rest % variables[k].levels.size());
        designs.push_back(std::move(design));
      }
      break;
    }
    case DesignKind::latin_hypercube:
      for (const auto& point : statistics::latin_hypercube(samples, axes, base.flight.seed))
        designs.push_back(placed(point, 0));
      break;
    case DesignKind::sobol:
      for (const auto& point : statistics::sobol_points(samples, axes)) designs.push_back(placed(point, 0));
      break;
    case DesignKind::search: {
      // A third spread out, to begin at the best of them.
      const std::size_t spread = std::clamp<std::size_t>(samples / 3, 1, samples);
      for (const auto& point : statistics::sobol_points(spread, axes)) designs.push_back(placed(point, 0));
      break;
    }
    case DesignKind::sensitivity: {
      const auto points = statistics::sobol_points(samples, 2 * axes);
      for (const auto& point : points) designs.push_back(placed(point, 0));
      for (const auto& point : points) designs.push_back(placed(point, axes));
      for (std::size_t k = 0; k < axes; ++k) {
        for (auto point : points) {
          point[k] = point[axes + k];
          designs.push_back(placed(point, 0));
        }
      }
      break;
    }
  }
  return designs;
}

std::string Study::shown(std::size_t index, double x) const {
  const Variable& variable = variables[index];
  return variable.levels.empty() ? written(x, variable.unit) : variable.levels[level_at(variable, x)];
}

scenario::NodePointer Study::tree_at(const Coordinates& coordinates) const {
  auto root = base_root;
  for (std::size_t k = 0; k < variables.size(); ++k) {
    for (const auto& link : variables[k].links)
      root = scenario::with_value(root, link.place, value_of(variables[k], link, coordinates[k]));
  }
  return root;
}

scenario::Scenario Study::scenario_at(const Coordinates& coordinates) const {
  scenario::Faults faults(base_shown);
  auto made = scenario::scenario_of(tree_at(coordinates), base.text, base_file, faults);
  made.flight.seed = base.flight.seed;
  // A study keeps no tracks.
  made.flight.trace.replicates = 0;
  return made;
}

}  // namespace driftglow::study
