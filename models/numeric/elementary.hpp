#pragma once

#include <cstddef>

#include "models/numeric/lane.hpp"

// Elementary functions over the number type. Own, because a result must not change with the C library or
// between packs; each is built of +, -, *, / and selects only. Errors are tested against long double.
namespace driftglow::numeric {

// Horner's rule; the coefficients stand from the highest power down.
template <class T, std::size_t count>
T polynomial(T x, const double (&coefficients)[count]) {
  T sum(coefficients[0]);
  unrolled<static_cast<int>(count) - 1>([&](auto i) { sum = multiply_add(sum, x, T(coefficients[i + 1])); });
  return sum;
}

// e^x. Relative error <= 2e-16 for |x| <= 700 in double, <= 2.6e-7 for |x| <= 87 in single precision; beyond,
// the value at that end.
template <class T>
T exponential(T x) {
  constexpr bool single = single_precision<T>;
  const T end(single ? 87.0 : 700.0);
  x = minimum(maximum(x, -end), end);
  const T k = round_nearest(x * T(1.4426950408889634074));
  // Taylor, |r| <= 0.347: remainders 1.2e-8 (r^7) and 4e-18 (r^13).
  if constexpr (single) {
    const T r = (x - k * T(0x1.63p-1)) - k * T(-2.12194440054690583e-4);
    return scale_exponent(polynomial(r, {1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0}), k);
  } else {
    const T r = (x - k * T(6.93147180369123816490e-01)) - k * T(1.90821492927058770002e-10);
    return scale_exponent(polynomial(r, {1.0 / 6227020800.0, 1.0 / 479001600.0, 1.0 / 39916800.0,
                                         1.0 / 3628800.0, 1.0 / 362880.0, 1.0 / 40320.0, 1.0 / 5040.0,
                                         1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0}),
                          k);
  }
}

// ln x for normal x > 0. Relative error <= 3.5e-16 in double and <= 1.8e-7 in single precision, near x = 1
// too; outside 1/2..2 <= 1.6e-16 and <= 1.1e-7.
template <class T>
T logarithm(T x) {
  T mantissa;
  T exponent = split_exponent(x, mantissa);
  const auto high = T(1.4142135623730951) < mantissa;
  mantissa = select(high, mantissa * T(0.5), mantissa);
  exponent = select(high, exponent + T(1.0), exponent);
  // ln m = 2 atanh(s), s = (m - 1)/(m + 1), |s| <= 0.172; series to s^9 (remainder 7e-10) and s^21 (1e-17).
  const T s = (mantissa - T(1.0)) / (mantissa + T(1.0));
  const T s2 = s * s;
  if constexpr (single_precision<T>) {
    const T sum = polynomial(s2, {2.0 / 9.0, 2.0 / 7.0, 2.0 / 5.0, 2.0 / 3.0});
    return exponent * T(0x1.63p-1) + ((exponent * T(-2.12194440054690583e-4) + s * s2 * sum) + T(2.0) * s);
  } else {
    const T sum = polynomial(s2, {2.0 / 21.0, 2.0 / 19.0, 2.0 / 17.0, 2.0 / 15.0, 2.0 / 13.0, 2.0 / 11.0,
                                  2.0 / 9.0, 2.0 / 7.0, 2.0 / 5.0, 2.0 / 3.0});
    return exponent * T(6.93147180369123816490e-01) +
           ((exponent * T(1.90821492927058770002e-10) + s * s2 * sum) + T(2.0) * s);
  }
}

template <class T>
struct SineCosine {
  T sine, cosine;
};

// sin and cos of quarter * pi/2 + r for a whole `quarter` and |r| <= pi/4.
template <class T>
SineCosine<T> sine_cosine_in_quarter(T quarter, T r) {
  const T r2 = r * r;
  T s, c;
  // Taylor to r^9 and r^10 (remainders 2e-9, 1e-10), to r^15 and r^16 in double.
  if constexpr (single_precision<T>) {
    s = polynomial(r2, {1.0 / 362880.0, -1.0 / 5040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0});
    c = polynomial(r2, {-1.0 / 3628800.0, 1.0 / 40320.0, -1.0 / 720.0, 1.0 / 24.0, -0.5, 1.0});
  } else {
    s = polynomial(r2, {-1.0 / 1307674368000.0, 1.0 / 6227020800.0, -1.0 / 39916800.0, 1.0 / 362880.0,
                        -1.0 / 5040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0});
    c = polynomial(r2, {1.0 / 20922789888000.0, -1.0 / 87178291200.0, 1.0 / 479001600.0, -1.0 / 3628800.0,
                        1.0 / 40320.0, -1.0 / 720.0, 1.0 / 24.0, -0.5, 1.0});
  }
  s = s * r;
  // Quadrant q = quarter mod 4, kept in numbers so that lanes need no integers: q in {-2, ..., 2}.
  const T q = quarter - T(4.0) * round_nearest(quarter * T(0.25));
  const T magnitude = absolute(q);
  const auto odd = magnitude == T(1.0);
  const T sine = select(odd, c, s), cosine = select(odd, s, c);
  const auto sine_negative = select(odd, q, T(1.0) - magnitude) < T(0.0);
  const auto cosine_negative = select(odd, -q, T(1.0) - magnitude) < T(0.0);
  return {select(sine_negative, -sine, sine), select(cosine_negative, -cosine, cosine)};
}

// sin and cos of an angle [rad]: absolute error <= 2.5e-16 for |angle| <= 1e5 in double, <= 1e-7 for |angle|
// <= 1e3 in single precision.
template <class T>
SineCosine<T> sine_cosine(T angle) {
  const T quarter = round_nearest(angle * T(0.63661977236758134308));
  if constexpr (single_precision<T>) {
    return sine_cosine_in_quarter(quarter,
                                  ((angle - quarter * T(1.5703125)) - quarter * T(4.837512969970703125e-4)) -
                                      quarter * T(7.54978995489188216e-8));
  } else {
    return sine_cosine_in_quarter(
        quarter, (angle - quarter * T(1.57079632673412561417e+00)) - quarter * T(6.07710050650619224932e-11));
  }
}

// sin and cos of 2 pi times a number of turns, |turns| <= 1e5: taking off whole quarters is exact. Absolute
// error <= 2.5e-16 in double, <= 1.1e-7 in single precision.
template <class T>
SineCosine<T> sine_cosine_of_turns(T turns) {
  const T quarter = round_nearest(T(4.0) * turns);
  return sine_cosine_in_quarter(quarter, T(6.28318530717958647692) * (turns - T(0.25) * quarter));
}

template <class T>
struct Pair {
  T first, second;
};

// Two independent standard normals from two uniforms in (0, 1) (Box & Muller 1958 [box1958]). Absolute error
// in single precision <= 8e-7 for uniforms of unit_interval(), whose normals end at 5.8.
template <class T>
Pair<T> normal_pair(T uniform_radius, T uniform_angle) {
  const T radius = square_root(T(-2.0) * logarithm(uniform_radius));
  const auto turn = sine_cosine_of_turns(uniform_angle);
  return {radius * turn.cosine, radius * turn.sine};
}

}  // namespace driftglow::numeric
