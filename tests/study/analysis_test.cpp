#include "sim/study/analysis.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <set>

#include "tests/outside.hpp"
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

// Looked at after each of ten batches and stopped at the first "distinct", alike designs would be told apart
// in a quarter of the studies.
TEST_CASE("flights that go on until ranks are distinct do not tell alike designs apart") {
  auto study = made_up_study({1, 2});
  study.flights = {16, 512, std::nullopt, Spend::ranks};
  CHECK(study.flights.looks() == 10);  // 16, 32, 48, 64, 96, 144, 208, 304, 448, 512
  int false_alarms = 0;
  constexpr int studies = 400;
  std::mt19937 generator(11);
  std::normal_distribution<double> normal;
  for (int i = 0; i < studies; ++i) {
    Table table;
    table.designs = study.planned();
    table.results.assign(2, {"", 0, {{}, {0.0}}});
    for (int flown = 16, distinct = 0; distinct == 0; flown = study.flights.next_count(flown)) {
      for (auto& result : table.results) {
        while (result.replicates < flown) {
          result.values[0].push_back(normal(generator));
          ++result.replicates;
        }
      }
      distinct = rank(study, table).comparisons.at(0).distinct;
      false_alarms += distinct;
      if (flown == 512) break;
    }
  }
  // At most 5 % of 400, and 4 standard errors of 4.4.
  CHECK(false_alarms <= 20 + 18);
}

// The replicates 20 ... 59 brought less luck than the first twenty: by plain means 0, which flew only those,
// would win.
TEST_CASE("designs that flew different numbers of replicates are ranked as their paired differences are") {
  auto study = made_up_study({1, 3});
  auto table = made_up_table(study, 60);
  for (auto& result : table.results)
    for (int i = 20; i < 60; ++i) result.values[0][i] -= 9.0;
  table.results[0].replicates = 20;
  table.results[0].values[0].resize(20);
  auto ranking = rank(study, table);
  CHECK(ranking.order == std::vector<int>{2, 1, 0});
  for (const auto& comparison : ranking.comparisons) CHECK(comparison.paired.mean > 0.0);
  study.goals = {{0, Want::least}};
  CHECK(rank(study, table).order == std::vector<int>{0, 1, 2});
}

TEST_CASE("what occurred in no replicate ranks last and belongs to no Pareto set") {
  auto study = made_up_study({1, 3});
  auto table = made_up_table(study, 20);
  table.results[2].values[0].assign(20, NAN);
  study.goals = {{0, Want::most}, {1, Want::least}};
  const auto ranking = rank(study, table);
  CHECK(ranking.order == std::vector<int>{1, 0, 2});
  CHECK(pareto_set(study, table, ranking.order) == std::vector<int>{1, 0});
  CHECK(std::isnan(ranking.comparisons.back().paired.mean));
  CHECK_FALSE(ranking.comparisons.back().distinct);
  const auto indices = sobol_indices(study, table);
  CHECK(std::isnan(indices[0][1].value.first));
  CHECK(std::isnan(indices[0][1].total.low));
  CHECK(indices[1][1].total.low == doctest::Approx(1.0));
}

// All pairs of 2^3 designs by the definition, against the one pass over an ordered list.
TEST_CASE("the Pareto set is that of the definition") {
  auto study = made_up_study({1, 8});
  study.goals = {{0, Want::most}, {1, Want::least}};
  std::mt19937 generator(2);
  std::uniform_int_distribution<int> few(0, 4);  // so that some are alike
  for (int trial = 0; trial < 50; ++trial) {
    Table table;
    table.designs = study.planned();
    for (std::size_t i = 0; i < 8; ++i) {
      const double y = few(generator), p = few(generator);
      table.results.push_back({"", 2, {{y, y}, {p}}});
    }
    const auto found = pareto_set(study, table, rank(study, table).order);
    const auto y = [&](std::size_t i) { return table.results[i].values[0][0]; };
    const auto p = [&](std::size_t i) { return table.results[i].values[1][0]; };
    std::set<std::pair<double, double>> expected, got;
    for (std::size_t i = 0; i < 8; ++i) {
      bool beaten = false;
      for (std::size_t j = 0; j < 8; ++j)
        beaten = beaten || (y(j) >= y(i) && p(j) <= p(i) && (y(j) > y(i) || p(j) < p(i)));
      if (!beaten) expected.emplace(y(i), p(i));
    }
    for (const int i : found) got.emplace(y(i), p(i));
    CHECK((got == expected));
    CHECK(found.size() == expected.size());  // one of several that are alike in both
  }
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
  const Outside outside("variances by hand");
  const auto study = made_up_study({2, 3});
  const auto table = made_up_table(study, 200);
  const auto effects = main_effects(study, table);
  CHECK(effects[0][0][1].mean.mean - effects[0][0][0].mean.mean == doctest::Approx(10.0).epsilon(0.01));
  CHECK(effects[1][1][2].mean.mean == 2.0);
  CHECK(effects[0][1].size() == 3);
  const auto indices = sobol_indices(study, table);
  // Chance of 0.1/sqrt(200) in each mean.
  outside.near("first-order index of a study's grid", indices[0][0].value.first, 25.0 / (25.0 + 2.0 / 3.0),
               0.005);
  outside.near("total index of a study's grid", indices[0][1].value.total, 2.0 / 3.0 / (25.0 + 2.0 / 3.0),
               0.005);
  CHECK(indices[1][1].value.first == doctest::Approx(1.0));
  CHECK(indices[0][0].first.low <= indices[0][0].value.first);
  CHECK(indices[0][0].first.high >= indices[0][0].value.first);
}
