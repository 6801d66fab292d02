#include "sim/statistics/sensitivity.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace driftglow::statistics {
namespace {

struct Moments {
  double mean, variance;  // of the whole, no estimate from a part
};

Moments moments(std::span<const double> values) {
  const double n = static_cast<double>(values.size());
  const double mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  double squares = 0.0;
  for (const double x : values) squares += (x - mean) * (x - mean);
  return {mean, squares / n};
}

// Variance of the means over all designs that agree in the axes for which `kept` holds.
double variance_of_means(std::span<const double> values, std::span<const std::size_t> levels,
                         const std::function<bool(std::size_t axis)>& kept) {
  std::size_t groups = 1;
  for (std::size_t axis = 0; axis < levels.size(); ++axis)
    if (kept(axis)) groups *= levels[axis];
  std::vector<double> means(groups, 0.0);
  for (std::size_t i = 0; i < values.size(); ++i) {
    std::size_t rest = i, group = 0, scale = 1;
    for (std::size_t axis = levels.size(); axis-- > 0;) {
      if (kept(axis)) {
        group += scale * (rest % levels[axis]);
        scale *= levels[axis];
      }
      rest /= levels[axis];
    }
    means[group] += values[i] * static_cast<double>(groups) / static_cast<double>(values.size());
  }
  return moments(means).variance;
}

double quantile(std::vector<double>& sorted, double share) {
  const double place = share * static_cast<double>(sorted.size() - 1);
  const auto below = static_cast<std::size_t>(place);
  const std::size_t above = std::min(below + 1, sorted.size() - 1);
  return std::lerp(sorted[below], sorted[above], place - static_cast<double>(below));
}

Interval middle_95(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return {quantile(values, 0.025), quantile(values, 0.975)};
}

}  // namespace

std::vector<SobolIndices> grid_indices(std::span<const double> values, std::span<const std::size_t> levels) {
  const double all = moments(values).variance;
  std::vector<SobolIndices> indices;
  for (std::size_t axis = 0; axis < levels.size(); ++axis) {
    if (all == 0.0) {
      indices.push_back({0.0, 0.0});
      continue;
    }
    const double alone = variance_of_means(values, levels, [&](std::size_t other) { return other == axis; });
    const double others = variance_of_means(values, levels, [&](std::size_t other) { return other != axis; });
    indices.push_back({alone / all, 1.0 - others / all});
  }
  return indices;
}

std::vector<SobolIndices> sampled_indices(const std::vector<std::vector<double>>& values, std::size_t axes,
                                          std::span<const std::size_t> points) {
  const auto &a = values[0], &b = values[1];
  std::vector<double> both;
  for (const std::size_t i : points) {
    both.push_back(a[i]);
    both.push_back(b[i]);
  }
  const double all = moments(both).variance;
  std::vector<SobolIndices> indices;
  for (std::size_t axis = 0; axis < axes; ++axis) {
    const auto& mixed = values[2 + axis];
    double first = 0.0, total = 0.0;
    for (const std::size_t i : points) {
      first += b[i] * (mixed[i] - a[i]);
      total += 0.5 * (a[i] - mixed[i]) * (a[i] - mixed[i]);
    }
    const double n = static_cast<double>(points.size());
    indices.push_back(all == 0.0 ? SobolIndices{0.0, 0.0} : SobolIndices{first / n / all, total / n / all});
  }
  return indices;
}

std::vector<SobolEstimate> with_bootstrap(
    std::size_t count, std::uint64_t seed,
    const std::function<std::vector<SobolIndices>(std::span<const std::size_t>)>& indices) {
  constexpr int draws = 400;
  std::vector<std::size_t> drawn(count);
  std::iota(drawn.begin(), drawn.end(), std::size_t{0});
  const auto value = indices(drawn);
  std::vector<std::vector<double>> first(value.size()), total(value.size());
  pcg32 stream(seed);
  for (int i = 0; i < draws; ++i) {
    for (auto& index : drawn) index = drawn_index(stream, static_cast<std::uint32_t>(count));
    const auto again = indices(drawn);
    for (std::size_t axis = 0; axis < value.size(); ++axis) {
      first[axis].push_back(again[axis].first);
      total[axis].push_back(again[axis].total);
    }
  }
  std::vector<SobolEstimate> estimates;
  for (std::size_t axis = 0; axis < value.size(); ++axis)
    estimates.push_back({value[axis], middle_95(first[axis]), middle_95(total[axis])});
  return estimates;
}

std::uint32_t drawn_index(pcg32& stream, std::uint32_t below) {
  std::uint64_t product = std::uint64_t{stream()} * below;
  if (static_cast<std::uint32_t>(product) < below) {
    const std::uint32_t least = -below % below;
    while (static_cast<std::uint32_t>(product) < least) product = std::uint64_t{stream()} * below;
  }
  return static_cast<std::uint32_t>(product >> 32);
}

}  // namespace driftglow::statistics
