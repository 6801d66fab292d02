#pragma once

#include <cstdint>
#include <functional>
#include <pcg_random.hpp>
#include <span>
#include <vector>

namespace driftglow::statistics {

// How much of an output's variance over the designs one thing that is varied makes: alone (first order), and
// with all its interactions (total) [sobol1993].
struct SobolIndices {
  double first, total;
};

struct Interval {
  double low, high;  // 95 %
};

struct SobolEstimate {
  SobolIndices value;
  Interval first, total;
};

// A full grid whose last axis runs fastest: exact decomposition of the variance over the grid's designs.
// values: [design], levels: of each axis.
std::vector<SobolIndices> grid_indices(std::span<const double> values, std::span<const std::size_t> levels);

// Designs of a sensitivity sample: base points A, base points B, then for each axis A with that axis from B.
// First order by the estimator (b) of [saltelli2010], total by [jansen1999]. values: [sample][point].
std::vector<SobolIndices> sampled_indices(const std::vector<std::vector<double>>& values, std::size_t axes,
                                          std::span<const std::size_t> points);

// Percentile intervals of bootstrap [efron1979] over `count` independent things that are drawn anew, with
// replacement, by `indices(drawn)`.
std::vector<SobolEstimate> with_bootstrap(
    std::size_t count, std::uint64_t seed,
    const std::function<std::vector<SobolIndices>(std::span<const std::size_t> drawn)>& indices);

// Uniform in 0 ... below - 1, without bias [lemire2019].
std::uint32_t drawn_index(pcg32& stream, std::uint32_t below);

}  // namespace driftglow::statistics
