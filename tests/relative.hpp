#pragma once

#include <doctest/doctest.h>

// Comparison within a relative tolerance. doctest's Approx adds the tolerance to 1 by itself, which lets
// every value in henry, farad or tesla pass; without its scale it is relative.
inline doctest::Approx relative(double expected, double tolerance = 1e-12) {
  return doctest::Approx(expected).epsilon(tolerance).scale(0.0);
}
