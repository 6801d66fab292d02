#pragma once

#include <boost/math/special_functions/ellint_1.hpp>
#include <boost/math/special_functions/ellint_2.hpp>
#include <boost/multiprecision/cpp_bin_float.hpp>

#include "models/constants.hpp"

// The field of a turn in its own frame by the classical form (Smythe, Static and Dynamic Electricity, 3rd
// ed., 7.10 [smythe1968]) in 50 digits, with elliptic integrals of Boost.Math: its cancellation costs at most
// half of them in the tests.
using Wide = boost::multiprecision::cpp_bin_float_50;

struct WideField {
  Wide radial, axial;  // T/A
};

inline WideField smythe(const Wide& a, const Wide& r, const Wide& z) {
  const Wide b2 = (a + r) * (a + r) + z * z, d2 = (a - r) * (a - r) + z * z;
  const Wide k = sqrt(4 * a * r / b2);
  const Wide K = boost::math::ellint_1(k), E = boost::math::ellint_2(k);
  const Wide pi = boost::math::constants::pi<Wide>();
  const Wide scale = Wide(driftglow::constant::mu_0) / (2 * pi * sqrt(b2));
  return {scale * z / r * (-K + (a * a + r * r + z * z) / d2 * E),
          scale * (K + (a * a - r * r - z * z) / d2 * E)};
}
