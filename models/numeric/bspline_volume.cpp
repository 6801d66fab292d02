#include "models/numeric/bspline_volume.hpp"

#include <vector>

#include "models/error.hpp"
#include "models/numeric/spline_lines.hpp"

namespace driftglow::numeric {
BsplineVolume::BsplineVolume(const std::array<UniformAxis, 3>& axes, int vectors,
                             std::span<const double> values)
    : axes_(axes), vectors_(vectors) {
  const std::ptrdiff_t channels = 3 * vectors;
  std::array<std::ptrdiff_t, 3> n, padded;
  for (int a = 0; a < 3; ++a) {
    if (axes[a].nodes < 4) throw LogicError("a spline volume needs at least 4 nodes an axis");
    n[a] = axes[a].nodes;
    padded[a] = n[a] + 2;
  }
  if (vectors < 1 || static_cast<std::ptrdiff_t>(values.size()) != n[0] * n[1] * n[2] * channels)
    throw LogicError("spline volume: values do not fit the axes");
  stride_y_ = static_cast<int>(padded[2] * channels);
  stride_x_ = static_cast<int>(padded[1] * stride_y_);

  std::vector<double> along_x(padded[0] * n[1] * n[2] * channels);
  spline_coefficients(values.data(), axes[0].nodes, n[1] * n[2] * channels, EdgeRule::not_a_knot,
                      along_x.data());
  std::vector<double> along_y(padded[0] * padded[1] * n[2] * channels);
  for (std::ptrdiff_t i = 0; i < padded[0]; ++i)
    spline_coefficients(along_x.data() + i * n[1] * n[2] * channels, axes[1].nodes, n[2] * channels,
                        EdgeRule::not_a_knot, along_y.data() + i * padded[1] * n[2] * channels);
  table_.coefficients.resize(padded[0] * stride_x_);
  for (std::ptrdiff_t i = 0; i < padded[0] * padded[1]; ++i)
    spline_coefficients(along_y.data() + i * n[2] * channels, axes[2].nodes, channels, EdgeRule::not_a_knot,
                        table_.coefficients.data() + i * stride_y_);
  table_.single.assign(table_.coefficients.begin(), table_.coefficients.end());
}

}  // namespace driftglow::numeric
