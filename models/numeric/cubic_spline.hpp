#pragma once

#include <type_traits>
#include <vector>

#include "models/numeric/lane.hpp"

// What spline maps of all dimensions share.
namespace driftglow::numeric {

// Evenly spaced nodes first, first + step, ...; step > 0, at least 4 nodes.
struct UniformAxis {
  double first;
  double step;
  int nodes;

  double at(int i) const { return first + step * i; }
  double last() const { return at(nodes - 1); }
};

// The four cubic B-splines over a cell at place t in it, with first and second derivatives per cell.
template <class T>
struct CubicWeights {
  T value[4], slope[4], curve[4];
  explicit CubicWeights(T t) {
    const T u = T(1.0) - t, t2 = t * t, u2 = u * u;
    value[0] = u2 * u * T(1.0 / 6.0);
    value[1] = (T(3.0) * t - T(6.0)) * t2 * T(1.0 / 6.0) + T(2.0 / 3.0);
    value[2] = (T(3.0) * u - T(6.0)) * u2 * T(1.0 / 6.0) + T(2.0 / 3.0);
    value[3] = t2 * t * T(1.0 / 6.0);
    slope[0] = T(-0.5) * u2;
    slope[1] = (T(1.5) * t - T(2.0)) * t;
    slope[2] = (T(2.0) - T(1.5) * u) * u;
    slope[3] = T(0.5) * t2;
    curve[0] = u;
    curve[1] = T(3.0) * t - T(2.0);
    curve[2] = T(3.0) * u - T(2.0);
    curve[3] = t;
  }
};

// A spline's coefficients as every number type reads them.
struct SplineTable {
  std::vector<double> coefficients;
  std::vector<float> single;  // the same, for lanes of single precision

  template <class R>
  const R* data() const {
    if constexpr (std::is_same_v<R, float>) {
      return single.data();
    } else {
      return coefficients.data();
    }
  }
};

}  // namespace driftglow::numeric
