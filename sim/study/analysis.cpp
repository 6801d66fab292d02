#include "sim/study/analysis.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <set>

#include "models/error.hpp"
#include "sim/statistics/comparison.hpp"

namespace driftglow::study {
namespace {

using statistics::Estimate;

constexpr double level = 0.05;
constexpr std::size_t most_for_all_pairs = 300;

double better(const Goal& goal, double value) {
  return goal.want == Want::most ? value : -value;
}

// Sheet values are the same in every replicate.
double value_at(const Study& study, const DesignResult& result, std::size_t output, int replicate) {
  const auto& values = result.values[output];
  return study.outputs[output].document == Document::sheet ? values.front() : values[replicate];
}

Comparison compared(const Study& study, const Table& table, int first, int second) {
  const std::size_t output = study.goals.front().output;
  const auto &a = table.results[first], &b = table.results[second];
  const int both = std::min(a.replicates, b.replicates);
  std::vector<double> differences;
  for (int i = 0; i < both; ++i)
    differences.push_back(value_at(study, a, output, i) - value_at(study, b, output, i));
  Comparison comparison{first, second, statistics::estimate(differences), 0.0, 1.0, false};
  comparison.unpaired_half_width =
      statistics::unpaired_half_width(estimate_of(study, a, output), estimate_of(study, b, output));
  comparison.p_value = statistics::p_value(comparison.paired);
  return comparison;
}

int common_replicates(const Table& table) {
  int common = -1;
  for (const auto& result : table.results)
    if (result.refused.empty() && (common < 0 || result.replicates < common)) common = result.replicates;
  return std::max(common, 0);
}

bool any_refused(const Table& table) {
  return std::any_of(table.results.begin(), table.results.end(),
                     [](const DesignResult& result) { return !result.refused.empty(); });
}

}  // namespace

Estimate estimate_of(const Study& study, const DesignResult& result, std::size_t output) {
  if (study.outputs[output].document == Document::sheet)
    return {result.values[output].front(), 0.0, 0.0, result.replicates};
  return statistics::estimate(result.values[output]);
}

bool keeps_limits(const Study& study, const DesignResult& result) {
  return std::all_of(study.limits.begin(), study.limits.end(), [&](const Limit& limit) {
    const double mean = estimate_of(study, result, limit.output).mean;
    return (!limit.least || mean >= *limit.least) && (!limit.most || mean <= *limit.most);
  });
}

Ranking rank(const Study& study, const Table& table) {
  Ranking ranking{{}, {}, {}, "Holm"};
  const Goal goal = study.goals.front();
  std::vector<double> score(table.designs.size());
  for (int i = 0; i < static_cast<int>(table.designs.size()); ++i) {
    const auto& result = table.results[i];
    if (!result.refused.empty() || result.replicates == 0) continue;
    const double mean = estimate_of(study, result, goal.output).mean;
    // What did not occur ranks last.
    score[i] = std::isnan(mean) ? -INFINITY : better(goal, mean);
    (keeps_limits(study, result) ? ranking.order : ranking.outside).push_back(i);
  }
  const auto by_score = [&](int a, int b) { return score[a] > score[b]; };
  std::stable_sort(ranking.order.begin(), ranking.order.end(), by_score);
  std::stable_sort(ranking.outside.begin(), ranking.outside.end(), by_score);

  const auto& order = ranking.order;
  const std::size_t n = order.size();
  const double pairs = 0.5 * static_cast<double>(n) * (static_cast<double>(n) - 1.0);
  const auto told = [](std::size_t i, std::size_t j) { return i == 0 || j == i + 1; };
  std::vector<double> p_values;
  std::vector<std::size_t> places;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = i + 1; j < n; ++j) {
      if (n > most_for_all_pairs && !told(i, j)) {
        if (i > 0) break;
        continue;
      }
      auto comparison = compared(study, table, order[i], order[j]);
      if (told(i, j)) {
        places.push_back(p_values.size());
        ranking.comparisons.push_back(comparison);
      }
      p_values.push_back(comparison.p_value);
    }
  }
  if (n > most_for_all_pairs) {
    ranking.correction = "Bonferroni";
    for (double& p : p_values) p = statistics::bonferroni_adjusted(p, pairs);
  } else {
    p_values = statistics::holm_adjusted(p_values);
  }
  for (std::size_t k = 0; k < places.size(); ++k) {
    ranking.comparisons[k].p_value = p_values[places[k]];
    ranking.comparisons[k].distinct = p_values[places[k]] < level;
  }
  return ranking;
}

std::vector<int> pareto_set(const Study& study, const Table& table, const std::vector<int>& order) {
  const auto score = [&](int design, std::size_t goal) {
    return better(study.goals[goal],
                  estimate_of(study, table.results[design], study.goals[goal].output).mean);
  };
  // `order` is by the first goal: a design stays when it is the best so far in the second.
  std::vector<int> set;
  if (study.goals.size() == 1) {
    if (!order.empty()) set.push_back(order.front());
    return set;
  }
  double best = -INFINITY;
  for (std::size_t i = 0; i < order.size();) {
    // Of those alike in the first goal only the best in the second.
    std::size_t end = i, top = i;
    for (; end < order.size() && score(order[end], 0) == score(order[i], 0); ++end)
      if (score(order[end], 1) > score(order[top], 1)) top = end;
    if (score(order[top], 1) > best) {
      best = score(order[top], 1);
      set.push_back(order[top]);
    }
    i = end;
  }
  return set;
}

std::vector<std::vector<std::vector<Effect>>> main_effects(const Study& study, const Table& table) {
  constexpr std::size_t quarters = 4;
  const int common = common_replicates(table);
  std::vector<std::vector<std::vector<Effect>>> all(study.outputs.size());
  for (std::size_t o = 0; o < study.outputs.size(); ++o) {
    for (std::size_t k = 0; k < study.variables.size(); ++k) {
      const auto& variable = study.variables[k];
      const bool range = variable.levels.empty();
      std::vector<std::vector<int>> members(range ? quarters : variable.levels.size());
      for (int i = 0; i < static_cast<int>(table.designs.size()); ++i) {
        if (!table.results[i].refused.empty() || table.results[i].replicates == 0) continue;
        std::size_t group = static_cast<std::size_t>(table.designs[i][k]);
        if (range) {
          const double low = study.coordinate(k, 0.0), high = study.coordinate(k, 1.0);
          const double share = variable.scale == Scale::logarithmic
                                   ? std::log(table.designs[i][k] / low) / std::log(high / low)
                                   : (table.designs[i][k] - low) / (high - low);
          group = std::min<std::size_t>(quarters - 1, static_cast<std::size_t>(share * quarters));
        }
        members[group].push_back(i);
      }
      std::vector<Effect> effects;
      for (std::size_t group = 0; group < members.size(); ++group) {
        std::vector<double> means;
        if (study.kind == DesignKind::grid) {
          for (int replicate = 0; replicate < common && !members[group].empty(); ++replicate) {
            double sum = 0.0;
            for (const int i : members[group]) sum += value_at(study, table.results[i], o, replicate);
            means.push_back(sum / static_cast<double>(members[group].size()));
          }
        } else {
          for (const int i : members[group]) means.push_back(estimate_of(study, table.results[i], o).mean);
        }
        const double low = static_cast<double>(group) / quarters,
                     high = static_cast<double>(group + 1) / quarters;
        effects.push_back({range ? study.shown(k, study.coordinate(k, low)) + " to " +
                                       study.shown(k, study.coordinate(k, high))
                                 : variable.levels[group],
                           statistics::estimate(means)});
      }
      all[o].push_back(std::move(effects));
    }
  }
  return all;
}

std::vector<std::vector<statistics::SobolEstimate>> sobol_indices(const Study& study, const Table& table) {
  const bool grid = study.kind == DesignKind::grid;
  if (any_refused(table) || !(grid || study.kind == DesignKind::sensitivity)) return {};
  std::vector<std::vector<statistics::SobolEstimate>> all;
  const std::uint64_t seed = study.base.flight.seed;
  const int common = common_replicates(table);
  for (std::size_t o = 0; o < study.outputs.size(); ++o) {
    if (grid) {
      const auto levels = study.grid_levels();
      all.push_back(statistics::with_bootstrap(common, seed, [&](std::span<const std::size_t> drawn) {
        std::vector<double> means;
        for (const auto& result : table.results) {
          double sum = 0.0;
          for (const std::size_t i : drawn) sum += value_at(study, result, o, static_cast<int>(i));
          means.push_back(sum / static_cast<double>(drawn.size()));
        }
        return statistics::grid_indices(means, levels);
      }));
      continue;
    }
    std::vector<std::vector<double>> values(study.variables.size() + 2);
    for (std::size_t i = 0; i < table.results.size(); ++i)
      values[i / study.samples].push_back(estimate_of(study, table.results[i], o).mean);
    all.push_back(statistics::with_bootstrap(study.samples, seed, [&](std::span<const std::size_t> drawn) {
      return statistics::sampled_indices(values, study.variables.size(), drawn);
    }));
  }
  return all;
}

}  // namespace driftglow::study
