#pragma once

#include <Eigen/Core>
#include <span>
#include <type_traits>
#include <vector>

#include "models/numeric/bspline_map.hpp"

namespace driftglow::swirl_flow {

// The two values and two slopes (per cell) of a cubic over a cell at place t in it: value 0, slope 0, value
// 1, slope 1; with first and second derivatives per cell. Near t = 0 all but the first fall with t without
// loss of digits.
template <class T>
struct HermiteWeights {
  T value[4], slope[4], curve[4];
  explicit HermiteWeights(T t) {
    const T u = T(1.0) - t, t2 = t * t;
    value[0] = u * u * (T(1.0) + T(2.0) * t);
    value[1] = t * u * u;
    value[2] = t2 * (T(3.0) - T(2.0) * t);
    value[3] = T(0.0) - t2 * u;
    slope[0] = T(-6.0) * t * u;
    slope[1] = u * (T(1.0) - T(3.0) * t);
    slope[2] = T(6.0) * t * u;
    slope[3] = t * (T(3.0) * t - T(2.0));
    curve[0] = T(12.0) * t - T(6.0);
    curve[1] = T(6.0) * t - T(4.0);
    curve[2] = T(6.0) - T(12.0) * t;
    curve[3] = T(6.0) * t - T(2.0);
  }
};

// Tensor-product cubic Hermite interpolation with monotone slopes on an even grid, several channels side by
// side. Once continuously differentiable; meets its nodes; where values along an edge do not change the
// interpolant does not either. Points outside the grid are extrapolated from its edge cell.
class HermiteMap {
 public:
  HermiteMap() = default;
  // channels[c](i, j) is the value at (x.at(i), y.at(j)). Throws LogicError when shapes differ or an axis has
  // less than 4 nodes.
  HermiteMap(numeric::UniformAxis x, numeric::UniformAxis y, std::span<const Eigen::MatrixXd> channels);

  const numeric::UniformAxis& x() const { return x_; }
  const numeric::UniformAxis& y() const { return y_; }

  // Value and derivatives of all channels, of which there must be `count`.
  template <int count, class T>
  void jets(T x, T y, numeric::Jet<T> (&out)[count]) const {
    using numeric::maximum;
    using numeric::minimum;
    using numeric::multiply_add;
    using numeric::to_real;
    using numeric::truncate;
    const T sx = (x - T(x_.first)) * T(inverse_step_x_), sy = (y - T(y_.first)) * T(inverse_step_y_);
    const auto ix = truncate(minimum(maximum(sx, T(0.0)), T(x_.nodes - 2)));
    const auto iy = truncate(minimum(maximum(sy, T(0.0)), T(y_.nodes - 2)));
    const HermiteWeights<T> wx(sx - to_real(ix)), wy(sy - to_real(iy));
    const auto first = ix * row_length_ + iy * (4 * count);
    const T zero(0.0);
    numeric::unrolled<count>([&](auto c) { out[c] = {zero, zero, zero, zero, zero, zero}; });
    // A node holds f, f_y, f_x, f_xy of each channel (slopes per cell); two nodes of a row lie side by side.
    numeric::unrolled<2>([&](auto i) {
      T row[8 * count];
      numeric::load_row(table<numeric::Real<T>>() + i * row_length_, first, row);
      numeric::unrolled<count>([&](auto c) {
        numeric::unrolled<2>([&](auto slope_x) {
          T value = zero, slope = zero, curve = zero;
          numeric::unrolled<2>([&](auto j) {
            numeric::unrolled<2>([&](auto slope_y) {
              const T& node = row[j * (4 * count) + c * 4 + slope_x * 2 + slope_y];
              value = multiply_add(wy.value[j * 2 + slope_y], node, value);
              slope = multiply_add(wy.slope[j * 2 + slope_y], node, slope);
              curve = multiply_add(wy.curve[j * 2 + slope_y], node, curve);
            });
          });
          numeric::Jet<T>& jet = out[c];
          constexpr int k = i * 2 + slope_x;
          jet.f = multiply_add(wx.value[k], value, jet.f);
          jet.fx = multiply_add(wx.slope[k], value, jet.fx);
          jet.fy = multiply_add(wx.value[k], slope, jet.fy);
          jet.fxx = multiply_add(wx.curve[k], value, jet.fxx);
          jet.fxy = multiply_add(wx.slope[k], slope, jet.fxy);
          jet.fyy = multiply_add(wx.value[k], curve, jet.fyy);
        });
      });
    });
    const T hx(inverse_step_x_), hy(inverse_step_y_);
    numeric::unrolled<count>([&](auto c) {
      numeric::Jet<T>& jet = out[c];
      jet = {jet.f, jet.fx * hx, jet.fy * hy, jet.fxx * (hx * hx), jet.fxy * (hx * hy), jet.fyy * (hy * hy)};
    });
  }

  std::size_t bytes() const { return table_.size() * sizeof(double) + single_table_.size() * sizeof(float); }

 private:
  numeric::UniformAxis x_{0.0, 1.0, 4}, y_{0.0, 1.0, 4};
  double inverse_step_x_ = 1.0, inverse_step_y_ = 1.0;
  int row_length_ = 0;
  std::vector<double> table_;        // [x node][y node][channel][f, f_y, f_x, f_xy]
  std::vector<float> single_table_;  // the same, for lanes of single precision

  template <class R>
  const R* table() const {
    if constexpr (std::is_same_v<R, float>) {
      return single_table_.data();
    } else {
      return table_.data();
    }
  }
};

}  // namespace driftglow::swirl_flow
