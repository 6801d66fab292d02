#include "tools/report/chart.hpp"

#include <doctest/doctest.h>

#include "tests/relative.hpp"

using namespace driftglow::report;

TEST_CASE("ticks stand at round numbers inside the range") {
  CHECK((ticks({"", 0.0, 50.0}, 6) == std::vector<double>{0, 10, 20, 30, 40, 50}));
  CHECK((ticks({"", -3.0, 7.0}, 6) == std::vector<double>{-2, 0, 2, 4, 6}));
  const auto decades = ticks({"", 0.01, 10.0, Scale::decades}, 6);
  REQUIRE(decades.size() == 4);
  CHECK(decades[1] == relative(0.1));
}

TEST_CASE("a range is widened to round numbers, and never empty") {
  const auto range = round_range("", -0.31, 0.87);
  CHECK(range.low == relative(-0.4));
  CHECK(range.high == relative(1.0));
  CHECK(round_range("", 0.0, 0.0).high > 0.0);
  CHECK(round_range("", 5.0, 5.0).high > 5.0);
}

TEST_CASE("a point stands where its axes say") {
  // Half-way on both axes is the middle of the plot.
  const auto svg = curve_chart({"t", "d", {}}, {"x", 0.0, 10.0}, {"y", 0.0, 2.0},
                               {{"c", {0.0, 5.0, 10.0}, {0.0, 1.0, 2.0}}});
  CHECK(svg.find("points=\"46.00,202.00 187.00,112.00 328.00,22.00\"") != std::string::npos);
}
