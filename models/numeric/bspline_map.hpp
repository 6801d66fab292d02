#pragma once

#include <Eigen/Core>
#include <span>

#include "models/numeric/cubic_spline.hpp"
#include "models/numeric/spline_lines.hpp"

namespace driftglow::numeric {

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
  // channels[c](i, j) is the value of channel c at (x.at(i), y.at(j)). The first `fixed` channels are kept in
  // fixed point, with 31 bits for the largest of them: for those whose second derivatives matter, which
  // single-precision coefficients spoil by 6e-8 (extent/step)^2. Throws LogicError when shapes differ or
  // nodes < 4.
  BsplineMap(UniformAxis x, UniformAxis y, EdgeRule low_x, std::span<const Eigen::MatrixXd> channels,
             int fixed = 0);

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
    return {ix * row_length_ + iy * channels_, sx - to_real(ix), sy - to_real(iy)};
  }

  // A cell with its weights, made once for a point whose channels are all wanted.
  template <class T>
  struct Stencil;

  template <class T>
  Stencil<T> stencil(const Cell<T>& cell) const {
    return {cell.first, CubicWeights<T>(cell.tx), CubicWeights<T>(cell.ty)};
  }

  // Value and derivatives of all channels, of which there must be `count`, the first `fixed` of them in fixed
  // point; what the caller does not use costs nothing once inlined. The four nodes of a row lie side by side
  // with all their channels.
  template <int fixed = 0, int count, class T>
  void jets(const Stencil<T>& stencil, Jet<T> (&out)[count]) const {
    const auto& wx = stencil.x;
    const auto& wy = stencil.y;
    const T zero(0.0);
    // Weights of a value sum to 1 and those of a derivative to 0: differences to one node do for all.
    T reference[fixed + 1];
    unrolled<count>([&](auto c) { out[c] = {zero, zero, zero, zero, zero, zero}; });
    unrolled<4>([&](auto i) {
      T row[4 * count];
      load_row(table_.data<Real<T>>() + i * row_length_, stencil.first, row);
      unrolled<fixed>([&](auto c) {
        if constexpr (i == 0) reference[c] = row[c];
        unrolled<4>([&](auto j) { row[j * count + c] = fixed_difference(row[j * count + c], reference[c]); });
      });
      unrolled<count>([&](auto c) {
        T value = wy.value[0] * row[c], slope = wy.slope[0] * row[c], curve = wy.curve[0] * row[c];
        unrolled<3>([&](auto j) {
          const T& node = row[(j + 1) * count + c];
          value = multiply_add(wy.value[j + 1], node, value);
          slope = multiply_add(wy.slope[j + 1], node, slope);
          curve = multiply_add(wy.curve[j + 1], node, curve);
        });
        Jet<T>& jet = out[c];
        jet.f = multiply_add(wx.value[i], value, jet.f);
        jet.fx = multiply_add(wx.slope[i], value, jet.fx);
        jet.fy = multiply_add(wx.value[i], slope, jet.fy);
        jet.fxx = multiply_add(wx.curve[i], value, jet.fxx);
        jet.fxy = multiply_add(wx.slope[i], slope, jet.fxy);
        jet.fyy = multiply_add(wx.value[i], curve, jet.fyy);
      });
    });
    unrolled<fixed>([&](auto c) { out[c].f = out[c].f + fixed_value(reference[c]); });
    unrolled<count>([&](auto c) {
      const double unit = c < fixed ? quantum_ : 1.0, hx = inverse_step_x_, hy = inverse_step_y_;
      Jet<T>& jet = out[c];
      if constexpr (c < fixed) jet.f = jet.f * T(unit);
      jet = {jet.f,
             jet.fx * T(unit * hx),
             jet.fy * T(unit * hy),
             jet.fxx * T(unit * hx * hx),
             jet.fxy * T(unit * hx * hy),
             jet.fyy * T(unit * hy * hy)};
    });
  }

  std::size_t bytes() const {
    return table_.coefficients.size() * sizeof(double) + table_.single.size() * sizeof(float);
  }

 private:
  UniformAxis x_{0.0, 1.0, 4}, y_{0.0, 1.0, 4};
  double inverse_step_x_ = 1.0, inverse_step_y_ = 1.0;
  double quantum_ = 1.0;  // of the channels in fixed point, a power of two
  int channels_ = 0, row_length_ = 0;
  SplineTable table_;  // [x node + 2][y node + 2][channel]
};

template <class T>
struct BsplineMap::Stencil {
  Index<T> first;
  CubicWeights<T> x, y;
};

}  // namespace driftglow::numeric
