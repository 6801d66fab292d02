#pragma once

#include <numeric>
#include <vector>

namespace driftglow::driver {

// Of one value or more.
inline double mean(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

}  // namespace driftglow::driver
