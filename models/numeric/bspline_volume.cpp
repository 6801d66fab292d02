#include "models/numeric/bspline_volume.hpp"

#include "models/error.hpp"

namespace driftglow::numeric {
namespace {

// Coefficients c_-1 ... c_n (n + 2 lines) of the splines through n lines of `width` values each. With the
// second difference s_i of c,
//   f_i = c_i + s_i/6,  second difference of f_i = (s_(i-1) + 4 s_i + s_(i+1))/6,
// and not-a-knot (no fourth difference of c at the first and last inner node) makes s_1 and s_(n-2) the
// second differences of f there: a tridiagonal system is left between them [deboor1978].
void prefilter(const double* values, int n, std::ptrdiff_t width, double* coefficients) {
  const auto f = [&](int i) { return values + i * width; };
  const auto c = [&](int i) { return coefficients + (i + 1) * width; };
  std::vector<double> second(static_cast<std::size_t>(n) * width);
  const auto s = [&](int i) { return second.data() + i * width; };
  for (int i = 1; i < n - 1; ++i) {
    for (std::ptrdiff_t k = 0; k < width; ++k) s(i)[k] = f(i - 1)[k] - 2.0 * f(i)[k] + f(i + 1)[k];
  }
  // Forward elimination and back substitution of s_(i-1) + 4 s_i + s_(i+1) = 6 (difference), i = 2 ... n - 3.
  std::vector<double> upper(n, 0.0);
  for (int i = 2; i <= n - 3; ++i) {
    const double pivot = 1.0 / (4.0 - upper[i - 1]);
    upper[i] = pivot;
    for (std::ptrdiff_t k = 0; k < width; ++k) s(i)[k] = (6.0 * s(i)[k] - s(i - 1)[k]) * pivot;
  }
  for (int i = n - 3; i >= 2; --i) {
    for (std::ptrdiff_t k = 0; k < width; ++k) s(i)[k] -= upper[i] * s(i + 1)[k];
  }
  for (std::ptrdiff_t k = 0; k < width; ++k) {
    s(0)[k] = 2.0 * s(1)[k] - s(2)[k];
    s(n - 1)[k] = 2.0 * s(n - 2)[k] - s(n - 3)[k];
  }
  for (int i = 0; i < n; ++i) {
    for (std::ptrdiff_t k = 0; k < width; ++k) c(i)[k] = f(i)[k] - s(i)[k] / 6.0;
  }
  for (std::ptrdiff_t k = 0; k < width; ++k) {
    c(-1)[k] = s(0)[k] + 2.0 * c(0)[k] - c(1)[k];
    c(n)[k] = s(n - 1)[k] + 2.0 * c(n - 1)[k] - c(n - 2)[k];
  }
}

}  // namespace

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
  prefilter(values.data(), axes[0].nodes, n[1] * n[2] * channels, along_x.data());
  std::vector<double> along_y(padded[0] * padded[1] * n[2] * channels);
  for (std::ptrdiff_t i = 0; i < padded[0]; ++i)
    prefilter(along_x.data() + i * n[1] * n[2] * channels, axes[1].nodes, n[2] * channels,
              along_y.data() + i * padded[1] * n[2] * channels);
  table_.coefficients.resize(padded[0] * stride_x_);
  for (std::ptrdiff_t i = 0; i < padded[0] * padded[1]; ++i)
    prefilter(along_y.data() + i * n[2] * channels, axes[2].nodes, channels,
              table_.coefficients.data() + i * stride_y_);
  table_.single.assign(table_.coefficients.begin(), table_.coefficients.end());
}

}  // namespace driftglow::numeric
