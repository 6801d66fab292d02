#pragma once

#include <Eigen/Core>
#include <span>
#include <vector>

#include "models/numeric/lane.hpp"

namespace driftglow::numeric {

// Evenly spaced nodes first, first + step, ...; step > 0, at least 4 nodes.
struct UniformAxis {
  double first;
  double step;
  int nodes;

  double at(int i) const { return first + step * i; }
  double last() const { return at(nodes - 1); }
};

// What closes the spline at an end of an axis: `not_a_knot` (the third derivative does not jump at the first
// inner node) or `even` (mirror symmetry about the first node, for functions that are even in a radius that
// starts at zero).
enum class EdgeRule { not_a_knot, even };

// Value and derivatives up to second order of one channel.
template <class T>
struct Jet {
  T f, fx, fy, fxx, fxy, fyy;
};

// Tensor-product cubic B-spline through values on an even grid, several channels side by side (interleaved,
// so that one read of a row serves them all). Interpolates exactly at the nodes; error O(step^4) in the
// value, O(step^2) in second derivatives.
class BsplineMap {
 public:
  BsplineMap() = default;
  // channels[c](i, j) is the value of channel c at (x.at(i), y.at(j)). Throws LogicError when shapes differ
  // or nodes < 4.
  BsplineMap(UniformAxis x, UniformAxis y, EdgeRule low_x, std::span<const Eigen::MatrixXd> channels);

  const UniformAxis& x() const { return x_; }
  const UniformAxis& y() const { return y_; }
  int channels() const { return channels_; }

  // Where a point lies in the table; points outside the grid are taken at its edge cell and extrapolated.
  template <class T>
  struct Cell {
    Index<T> first;  // of the 4 x 4 block, in coefficients
    T tx, ty;        // place in the cell, 0..1
  };

  template <class T>
  Cell<T> locate(T x, T y) const {
    const T sx = (x - T(x_.first)) * T(inverse_step_x_);
    const T sy = (y - T(y_.first)) * T(inverse_step_y_);
    const auto ix = truncate(minimum(maximum(sx, T(0.0)), T(x_.nodes - 2)));
    const auto iy = truncate(minimum(maximum(sy, T(0.0)), T(y_.nodes - 2)));
    return {(ix * (y_.nodes + 2) + iy) * channels_, sx - to_real(ix), sy - to_real(iy)};
  }

  // A cell with its weights, made once for a point whose channels are all wanted.
  template <class T>
  struct Stencil;

  template <class T>
  Stencil<T> stencil(const Cell<T>& cell) const {
    return {cell.first, Weights<T>(cell.tx), Weights<T>(cell.ty)};
  }

  // Value and derivatives of a channel; what the caller does not use costs nothing once inlined.
  template <class T>
  Jet<T> jet(const Cell<T>& cell, int channel) const {
    return jet(stencil(cell), channel);
  }

  template <class T>
  Jet<T> jet(const Stencil<T>& stencil, int channel) const {
    const auto& wx = stencil.x;
    const auto& wy = stencil.y;
    Jet<T> sum{T(0.0), T(0.0), T(0.0), T(0.0), T(0.0), T(0.0)};
    for (int i = 0; i < 4; ++i) {
      T row(0.0), row_y(0.0), row_yy(0.0);
      for (int j = 0; j < 4; ++j) {
        const T c =
            gather(coefficients_.data(), stencil.first + (i * (y_.nodes + 2) + j) * channels_ + channel);
        row = row + wy.value[j] * c;
        row_y = row_y + wy.slope[j] * c;
        row_yy = row_yy + wy.curve[j] * c;
      }
      sum.f = sum.f + wx.value[i] * row;
      sum.fx = sum.fx + wx.slope[i] * row;
      sum.fy = sum.fy + wx.value[i] * row_y;
      sum.fxx = sum.fxx + wx.curve[i] * row;
      sum.fxy = sum.fxy + wx.slope[i] * row_y;
      sum.fyy = sum.fyy + wx.value[i] * row_yy;
    }
    const T hx(inverse_step_x_), hy(inverse_step_y_);
    return {sum.f, sum.fx * hx, sum.fy * hy, sum.fxx * hx * hx, sum.fxy * hx * hy, sum.fyy * hy * hy};
  }

  std::size_t bytes() const { return coefficients_.size() * sizeof(double); }

 private:
  template <class T>
  struct Weights {
    T value[4], slope[4], curve[4];
    explicit Weights(T t) {
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

  UniformAxis x_{0.0, 1.0, 4}, y_{0.0, 1.0, 4};
  double inverse_step_x_ = 1.0, inverse_step_y_ = 1.0;
  int channels_ = 0;
  std::vector<double> coefficients_;  // [x node + 2][y node + 2][channel]
};

template <class T>
struct BsplineMap::Stencil {
  Index<T> first;
  Weights<T> x, y;
};

}  // namespace driftglow::numeric
