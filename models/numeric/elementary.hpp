#pragma once

#include <initializer_list>

#include "models/numeric/lane.hpp"

// Elementary functions over the number type. Own, because a result must not change with the C library or
// between a scalar and a pack of lanes; each is built of +, -, *, / and selects only. Errors are tested
// against long double.
namespace driftglow::numeric {

// e^x, relative error <= 4e-16 for |x| <= 700 (outside: clamped).
template <class T>
T exponential(T x) {
  x = minimum(maximum(x, T(-700.0)), T(700.0));
  const T k = round_nearest(x * T(1.4426950408889634074));
  const T r = (x - k * T(6.93147180369123816490e-01)) - k * T(1.90821492927058770002e-10);
  // Taylor to r^13: |r| <= 0.347, remainder 4e-18.
  T sum(1.0 / 6227020800.0);
  for (const double c : {1.0 / 479001600.0, 1.0 / 39916800.0, 1.0 / 3628800.0, 1.0 / 362880.0, 1.0 / 40320.0,
                         1.0 / 5040.0, 1.0 / 720.0, 1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 0.5, 1.0, 1.0}) {
    sum = sum * r + T(c);
  }
  return scale_exponent(sum, k);
}

// ln x for normal x > 0, relative error <= 4e-16 away from x = 1 and absolute error <= 1e-16 near it.
template <class T>
T logarithm(T x) {
  T mantissa;
  T exponent = split_exponent(x, mantissa);
  const auto high = mantissa > T(1.4142135623730951);
  mantissa = select(high, mantissa * T(0.5), mantissa);
  exponent = select(high, exponent + T(1.0), exponent);
  // ln m = 2 atanh(s), s = (m - 1)/(m + 1), |s| <= 0.172; series to s^21, remainder 1e-17.
  const T s = (mantissa - T(1.0)) / (mantissa + T(1.0));
  const T s2 = s * s;
  T sum(2.0 / 21.0);
  for (const double c : {2.0 / 19.0, 2.0 / 17.0, 2.0 / 15.0, 2.0 / 13.0, 2.0 / 11.0, 2.0 / 9.0, 2.0 / 7.0,
                         2.0 / 5.0, 2.0 / 3.0}) {
    sum = sum * s2 + T(c);
  }
  return exponent * T(6.93147180369123816490e-01) +
         ((exponent * T(1.90821492927058770002e-10) + s * s2 * sum) + T(2.0) * s);
}

template <class T>
struct SineCosine {
  T sine, cosine;
};

// sin and cos of an angle [rad], |angle| <= 1e5, absolute error <= 3e-16 + 1e-16 |angle|.
template <class T>
SineCosine<T> sine_cosine(T angle) {
  const T quarter = round_nearest(angle * T(0.63661977236758134308));
  const T r = (angle - quarter * T(1.57079632673412561417e+00)) - quarter * T(6.07710050650619224932e-11);
  const T r2 = r * r;
  T s(-1.0 / 1307674368000.0);
  for (const double c :
       {1.0 / 6227020800.0, -1.0 / 39916800.0, 1.0 / 362880.0, -1.0 / 5040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0}) {
    s = s * r2 + T(c);
  }
  s = s * r;
  T c(1.0 / 20922789888000.0);
  for (const double k : {-1.0 / 87178291200.0, 1.0 / 479001600.0, -1.0 / 3628800.0, 1.0 / 40320.0,
                         -1.0 / 720.0, 1.0 / 24.0, -0.5, 1.0}) {
    c = c * r2 + T(k);
  }
  // Quadrant q = quarter mod 4, kept in numbers so that lanes need no integers: q in {-2, ..., 2}.
  const T q = quarter - T(4.0) * round_nearest(quarter * T(0.25));
  const T magnitude = absolute(q);
  const auto odd = magnitude == T(1.0);
  const T sine = select(odd, c, s), cosine = select(odd, s, c);
  const auto sine_negative = select(odd, q, T(1.0) - magnitude) < T(0.0);
  const auto cosine_negative = select(odd, -q, T(1.0) - magnitude) < T(0.0);
  return {select(sine_negative, -sine, sine), select(cosine_negative, -cosine, cosine)};
}

template <class T>
struct Pair {
  T first, second;
};

// Two independent standard normals from two uniforms in (0, 1) (Box & Muller 1958 [box1958]).
template <class T>
Pair<T> normal_pair(T uniform_radius, T uniform_angle) {
  const T radius = square_root(T(-2.0) * logarithm(uniform_radius));
  const auto turn = sine_cosine(T(6.28318530717958647692) * uniform_angle);
  return {radius * turn.cosine, radius * turn.sine};
}

}  // namespace driftglow::numeric
