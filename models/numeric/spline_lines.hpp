#pragma once

#include <cstddef>

namespace driftglow::numeric {

// What closes the spline at an end of an axis: `not_a_knot` (the third derivative does not jump at the first
// inner node) or `even` (mirror symmetry about the first node, for functions that are even in a radius that
// starts at zero).
enum class EdgeRule { not_a_knot, even };

// Coefficients c_-1 ... c_n (n + 2 lines) of the cubic B-splines through n >= 4 lines of `width` values each,
// closed by `low` at the first and by not-a-knot at the last. With the second difference s_i of c,
//   f_i = c_i + s_i/6,  second difference of f_i = (s_(i-1) + 4 s_i + s_(i+1))/6,
// and not-a-knot (no fourth difference of c at the first and last inner node) makes s_1 and s_(n-2) the
// second differences of f there; by symmetry 4 s_0 + 2 s_1 is six times that at 0. A tridiagonal system is
// left between them [deboor1978].
void spline_coefficients(const double* values, int n, std::ptrdiff_t width, EdgeRule low,
                         double* coefficients);

}  // namespace driftglow::numeric
