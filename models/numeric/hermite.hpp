#pragma once

namespace driftglow::numeric {

// The cubic on [0, 1] with values f0 and f1 and derivatives d0 and d1 at its ends.
inline double hermite(double t, double f0, double f1, double d0, double d1) {
  const double rise = f1 - f0;
  return f0 + t * (d0 + t * (3.0 * rise - 2.0 * d0 - d1 + t * (d0 + d1 - 2.0 * rise)));
}

}  // namespace driftglow::numeric
