#pragma once

#include <cmath>

namespace driftglow::store {

// No number of ours, in SI units, is larger in size; its square stays finite in `float` too.
constexpr double most_plausible = 1e12;

// False for NaN.
inline bool plausible(double value) {
  return std::fabs(value) <= most_plausible;
}

// NaN stands for what a flight or a section has no value of.
inline bool plausible_or_none(double value) {
  return std::isnan(value) || plausible(value);
}

}  // namespace driftglow::store
