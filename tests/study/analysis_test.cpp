#include "sim/study/analysis.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "tests/study/made_up.hpp"

using namespace driftglow;
using namespace driftglow::study;

namespace {

// y = 10 a + b with a replicate's luck in common and a little of its own.
Table made_up_table(const Study& study, int replicates) {
  std::mt19937 generator(5);
  std::normal_distribution<double> normal;
  std::vector<double> luck;
  for (int i = 0; i < replicates; ++i) luck.push_back(3.0 * normal(generator));
  Table table;
  table.designs = study.planned();
  for (const auto& design : table.designs) {
    DesignResult result{"", replicates, {{}, {design[1]}}};
    for (int i = 0; i < replicates; ++i)
      result.values[0].push_back(10.0 * design[0] + design[1] + luck[i] + 0.1 * normal(generator));
    table.results.push_back(std::move(result));
  }
  table.range = {0, static_cast<int>(table.designs.size())};
  return table;
}

}  // namespace

TEST_CASE("ranks by paired differences, which see what single intervals hide") {
  const auto study = made_up_study({2, 3});
  const auto table = made_up_table(study, 20);
  const auto ranking = rank(study, table);
  CHECK(ranking.order == std::vector<int>{5, 4, 3, 2, 1, 0});
  CHECK(ranking.comparisons.size() == 9);  // five with the best, four more of neighbours
  for (const auto& comparison : ranking.comparisons) {
    CHECK(comparison.distinct);
    // Luck of 3 against 0.1 of their own: a factor 3/0.1, with chance in both.
    CHECK(comparison.unpaired_half_width > 15.0 * comparison.paired.half_width);
  }
}

TEST_CASE("designs that are alike are not told apart, at 5 % for all pairs together") {
  const auto study = made_up_study({1, 8});
  int false_alarms = 0;
  constexpr int studies = 400;
  std::mt19937 generator(9);
  std::normal_distribution<double> normal;
  for (int i = 0; i < studies; ++i) {
    Table table;
    table.designs = study.planned();
    for (std::size_t d = 0; d < table.designs.size(); ++d) {
      DesignResult result{"", 16, {{}, {0.0}}};
      for (int k = 0; k < 16; ++k) result.values[0].push_back(normal(generator));
      table.results.push_back(std::move(result));
    }
    bool any = false;
    for (const auto& comparison : rank(study, table).comparisons) any = any || comparison.distinct;
    false_alarms += any;
  }
  // At most 5 % of 400, and 4 standard errors of 4.4. Without the correction some 40 % of the studies would.
  CHECK(false_alarms <= 20 + 18);
}

TEST_CASE("limits, designs that cannot be built, two goals") {
  auto study = made_up_study({2, 3});
  auto table = made_up_table(study, 20);
  study.limits = {{1, std::nullopt, 1.0}};
  table.results[4].refused = "no";
  auto ranking = rank(study, table);
  CHECK(ranking.order == std::vector<int>{3, 1, 0});
  CHECK(ranking.outside == std::vector<int>{5, 2});
  CHECK(pareto_set(study, table, ranking.order) == std::vector<int>{3});
  CHECK(sobol_indices(study, table).empty());
  study.limits.clear();
  study.goals = {{0, Want::most}, {1, Want::least}};
  table.results[4].refused.clear();
  ranking = rank(study, table);
  // The most of y costs the most of p: one design for each p, of the higher a.
  CHECK(pareto_set(study, table, ranking.order) == std::vector<int>{5, 4, 3});
}

// Variances of 10 a over {0, 1} and b over {0, 1, 2}: 25 and 2/3.
TEST_CASE("main effects and indices of a grid") {
  const auto study = made_up_study({2, 3});
  const auto table = made_up_table(study, 200);
  const auto effects = main_effects(study, table);
  CHECK(effects[0][0][1].mean.mean - effects[0][0][0].mean.mean == doctest::Approx(10.0).epsilon(0.01));
  CHECK(effects[1][1][2].mean.mean == 2.0);
  CHECK(effects[0][1].size() == 3);
  const auto indices = sobol_indices(study, table);
  // Chance of 0.1/sqrt(200) in each mean.
  CHECK(std::fabs(indices[0][0].value.first - 25.0 / (25.0 + 2.0 / 3.0)) < 0.005);
  CHECK(std::fabs(indices[0][1].value.total - 2.0 / 3.0 / (25.0 + 2.0 / 3.0)) < 0.005);
  CHECK(indices[1][1].value.first == doctest::Approx(1.0));
  CHECK(indices[0][0].first.low <= indices[0][0].value.first);
  CHECK(indices[0][0].first.high >= indices[0][0].value.first);
}
