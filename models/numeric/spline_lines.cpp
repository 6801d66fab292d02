#include "models/numeric/spline_lines.hpp"

#include <vector>

namespace driftglow::numeric {

void spline_coefficients(const double* values, int n, std::ptrdiff_t width, EdgeRule low,
                         double* coefficients) {
  const auto f = [&](int i) { return values + i * width; };
  const auto c = [&](int i) { return coefficients + (i + 1) * width; };
  std::vector<double> second(static_cast<std::size_t>(n) * width);
  const auto s = [&](int i) { return second.data() + i * width; };
  for (int i = 1; i < n - 1; ++i) {
    for (std::ptrdiff_t k = 0; k < width; ++k) s(i)[k] = f(i - 1)[k] - 2.0 * f(i)[k] + f(i + 1)[k];
  }
  // Forward elimination and back substitution of s_(i-1) + 4 s_i + s_(i+1) = 6 (difference), up to i = n - 3.
  std::vector<double> upper(n, 0.0);
  const int first = low == EdgeRule::even ? 1 : 2;
  if (low == EdgeRule::even) {
    upper[0] = 0.5;
    for (std::ptrdiff_t k = 0; k < width; ++k) s(0)[k] = 3.0 * (f(1)[k] - f(0)[k]);
  }
  for (int i = first; i <= n - 3; ++i) {
    const double pivot = 1.0 / (4.0 - upper[i - 1]);
    upper[i] = pivot;
    for (std::ptrdiff_t k = 0; k < width; ++k) s(i)[k] = (6.0 * s(i)[k] - s(i - 1)[k]) * pivot;
  }
  for (int i = n - 3; i >= first; --i) {
    for (std::ptrdiff_t k = 0; k < width; ++k) s(i)[k] -= upper[i] * s(i + 1)[k];
  }
  for (std::ptrdiff_t k = 0; k < width; ++k) {
    s(0)[k] = low == EdgeRule::even ? s(0)[k] - upper[0] * s(1)[k] : 2.0 * s(1)[k] - s(2)[k];
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

}  // namespace driftglow::numeric
