#pragma once

#include <string>
#include <vector>

#include "sim/statistics/estimate.hpp"
#include "sim/statistics/sensitivity.hpp"
#include "sim/study/run.hpp"

// What a study's table says; a function of the table alone.
namespace driftglow::study {

// Over a design's replicates; of a sheet output the value itself, without width.
statistics::Estimate estimate_of(const Study& study, const DesignResult& result, std::size_t output);

// Goal of `first` less that of `second`, over the replicates that both flew.
struct Comparison {
  int first, second;
  statistics::Estimate paired;
  double unpaired_half_width;  // 95 %, as if they had flown apart (Welch)
  double p_value;              // corrected for all comparisons
  bool distinct;               // at 5 % for all of them together
};

struct Ranking {
  std::vector<int> order;               // designs that could be built and keep the limits, the best first
  std::vector<int> outside;             // those that break a limit, by the goal
  std::vector<Comparison> comparisons;  // with the best, and of neighbours, in `order`
  const char* correction;               // name of the correction
};

// By the first goal.
Ranking rank(const Study& study, const Table& table);

bool keeps_limits(const Study& study, const DesignResult& result);

// Designs of Ranking::order of which none is better in one goal and as good in the other; with one goal the
// best alone.
std::vector<int> pareto_set(const Study& study, const Table& table, const std::vector<int>& order);

// Mean of an output over the designs with one level of a variable, or, of a range, with a quarter of it.
struct Effect {
  std::string level;
  statistics::Estimate mean;  // grid: over replicates that all flew; else over designs
};
// [output][variable][level]
std::vector<std::vector<std::vector<Effect>>> main_effects(const Study& study, const Table& table);

// [output][variable]; empty where the design gives none or a design of it could not be built.
std::vector<std::vector<statistics::SobolEstimate>> sobol_indices(const Study& study, const Table& table);

}  // namespace driftglow::study
