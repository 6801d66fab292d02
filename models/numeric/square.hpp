#pragma once

namespace driftglow::numeric {

inline double square(double x) {
  return x * x;
}

}  // namespace driftglow::numeric
