#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "models/numeric/cubic_spline.hpp"
#include "models/numeric/vec3.hpp"

namespace driftglow::numeric {

// Tensor-product cubic B-spline through values on an even grid in (x, y, z), closed by not-a-knot at all six
// faces. Channels come in threes, the components of vector fields. Interpolates exactly at the nodes; error
// O(step^4) in the value, O(step^2) in second derivatives. Stored twice, for lanes of single precision too.
class BsplineVolume {
 public:
  BsplineVolume() = default;
  // values: [x node][y node][z node][vector][component]. Throws LogicError when the size differs or an axis
  // has fewer than 4 nodes.
  BsplineVolume(const std::array<UniformAxis, 3>& axes, int vectors, std::span<const double> values);

  const std::array<UniformAxis, 3>& axes() const { return axes_; }
  int vectors() const { return vectors_; }
  std::size_t bytes() const { return bytes_of(axes_, vectors_); }
  static std::size_t bytes_of(const std::array<UniformAxis, 3>& axes, int vectors) {
    std::size_t count = 3 * static_cast<std::size_t>(vectors);
    for (const auto& axis : axes) count *= static_cast<std::size_t>(axis.nodes) + 2;
    return count * (sizeof(double) + sizeof(float));
  }

  // The 4 x 4 x 4 block about a point, with its weights; points outside the grid are taken at its edge cell
  // and extrapolated.
  template <class T>
  struct Cell {
    Index<T> first;
    CubicWeights<T> x, y, z;
  };

  template <class T>
  Cell<T> locate(const Vec3<T>& p) const {
    Place<T> x(axes_[0], p.x), y(axes_[1], p.y), z(axes_[2], p.z);
    return {x.node * stride_x_ + y.node * stride_y_ + z.node * (3 * vectors_), CubicWeights<T>(x.in_cell),
            CubicWeights<T>(y.in_cell), CubicWeights<T>(z.in_cell)};
  }

  // The vectors at a point; `count` is the volume's own number, known when compiling.
  template <int count, class T>
  void values(const Cell<T>& cell, Vec3<T> (&value)[count]) const {
    for (auto& v : value) v = {T(0.0), T(0.0), T(0.0)};
    each_row<count, T>(cell, [&](int i, int j, const T(&row)[12 * count]) {
      const T across = cell.x.value[i] * cell.y.value[j];
      unrolled<4>([&](auto l) {
        const T weight = across * cell.z.value[l];
        unrolled<count>([&](auto v) {
          const T* c = row + 3 * (l * count + v);
          value[v] += Vec3<T>{weight * c[0], weight * c[1], weight * c[2]};
        });
      });
    });
  }

  // n.V and (n.grad)^2 (n.V) of every vector field, for a unit direction n.
  template <int count, class T>
  void along(const Cell<T>& cell, const Vec3<T>& n, T (&value)[count], T (&curvature)[count]) const {
    const T x = n.x * T(1.0 / axes_[0].step), y = n.y * T(1.0 / axes_[1].step),
            z = n.z * T(1.0 / axes_[2].step);
    for (int v = 0; v < count; ++v) value[v] = curvature[v] = T(0.0);
    each_row<count, T>(cell, [&](int i, int j, const T(&row)[12 * count]) {
      // Derivatives along n of the product of the x and y splines, zeroth to second.
      const T xy = cell.x.value[i] * cell.y.value[j];
      const T xy_slope = x * cell.x.slope[i] * cell.y.value[j] + y * cell.x.value[i] * cell.y.slope[j];
      const T xy_curve = x * x * cell.x.curve[i] * cell.y.value[j] +
                         T(2.0) * x * y * cell.x.slope[i] * cell.y.slope[j] +
                         y * y * cell.x.value[i] * cell.y.curve[j];
      const T mixed = T(2.0) * z * xy_slope, z_curve = z * z * xy;
      unrolled<count>([&](auto v) {
        T plain(0.0), slope(0.0), curve(0.0);
        unrolled<4>([&](auto l) {
          const T* c = row + 3 * (l * count + v);
          const T component = multiply_add(n.x, c[0], multiply_add(n.y, c[1], n.z * c[2]));
          plain = multiply_add(cell.z.value[l], component, plain);
          slope = multiply_add(cell.z.slope[l], component, slope);
          curve = multiply_add(cell.z.curve[l], component, curve);
        });
        value[v] = value[v] + xy * plain;
        curvature[v] = curvature[v] + (xy_curve * plain + mixed * slope + z_curve * curve);
      });
    });
  }

 private:
  template <class T>
  struct Place {
    Index<T> node;
    T in_cell;
    Place(const UniformAxis& axis, const T& x) {
      const T s = (x - T(axis.first)) * T(1.0 / axis.step);
      node = truncate(minimum(maximum(s, T(0.0)), T(axis.nodes - 2)));
      in_cell = s - to_real(node);
    }
  };

  // Calls use(i, j, row) with the four nodes along z, all their channels, of each x and y neighbour.
  template <int count, class T, class F>
  void each_row(const Cell<T>& cell, F use) const {
    T row[12 * count];
    for (int i = 0; i < 4; ++i) {
      for (int j = 0; j < 4; ++j) {
        load_row(table_.data<Real<T>>() + i * stride_x_ + j * stride_y_, cell.first, row);
        use(i, j, row);
      }
    }
  }

  std::array<UniformAxis, 3> axes_{{{0.0, 1.0, 4}, {0.0, 1.0, 4}, {0.0, 1.0, 4}}};
  int vectors_ = 0;
  int stride_x_ = 0, stride_y_ = 0;
  SplineTable table_;  // [x node + 2][y node + 2][z node + 2][vector][component]
};

}  // namespace driftglow::numeric
