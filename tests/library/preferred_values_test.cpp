#include "sim/library/preferred_values.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "models/error.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using library::Series;

TEST_CASE("the published series of IEC 60063") {
  CHECK(library::decade(Series::e6) == std::vector<double>{1.0, 1.5, 2.2, 3.3, 4.7, 6.8});
  CHECK(library::decade(Series::e12) ==
        std::vector<double>{1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2});
  CHECK(library::decade(Series::e48) ==
        std::vector<double>{1.00, 1.05, 1.10, 1.15, 1.21, 1.27, 1.33, 1.40, 1.47, 1.54, 1.62, 1.69,
                            1.78, 1.87, 1.96, 2.05, 2.15, 2.26, 2.37, 2.49, 2.61, 2.74, 2.87, 3.01,
                            3.16, 3.32, 3.48, 3.65, 3.83, 4.02, 4.22, 4.42, 4.64, 4.87, 5.11, 5.36,
                            5.62, 5.90, 6.19, 6.49, 6.81, 7.15, 7.50, 7.87, 8.25, 8.66, 9.09, 9.53});
}

TEST_CASE("each series is 10^(i/n) within its rounding, E48 every second of E96") {
  const Outside outside("IEC 60063: 10^(i/n) within the rounding");
  struct Row {
    Series series;
    int count;
    double tolerance;
  };
  // E24 strays by up to 5 % where its rounding is historical (27 to 47, 82).
  for (const auto& [series, count, tolerance] :
       {Row{Series::e24, 24, 0.05}, Row{Series::e48, 48, 0.005}, Row{Series::e96, 96, 0.005}}) {
    const auto& values = library::decade(series);
    REQUIRE(int(values.size()) == count);
    for (int i = 0; i < count; ++i)
      outside.matches("preferred values", values[std::size_t(i)], std::pow(10., double(i) / count),
                      tolerance);
  }
  for (std::size_t i = 0; i < 48; ++i)
    CHECK(library::decade(Series::e96)[2 * i] == library::decade(Series::e48)[i]);
}

TEST_CASE("neighbours and the nearest value") {
  const auto around = library::neighbours(20e-9, Series::e6);
  CHECK(around.below == 15e-9);
  CHECK(around.above == 22e-9);
  CHECK(library::nearest(20e-9, Series::e6) == 22e-9);
  CHECK(library::nearest(9.9e3, Series::e12) == 10e3);  // over the decade's end
  const auto exact = library::neighbours(4.7e-8, Series::e12);
  CHECK(exact.below == 4.7e-8);
  CHECK(exact.above == 4.7e-8);
  // Nearest by ratio: between 1.0 and 1.5 the border is their geometric mean, 1.2247.
  CHECK(library::nearest(1.22, Series::e6) == 1.0);
  CHECK(library::nearest(1.23, Series::e6) == 1.5);
  CHECK_THROWS_AS(library::nearest(0, Series::e6), LogicError);
  CHECK_THROWS_AS(library::nearest(std::nan(""), Series::e6), LogicError);
}
