#include "tools/report/contour.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::report;

namespace {

double area(const ContourLine& line) {
  double twice = 0.0;
  for (std::size_t i = 0; i + 1 < line.size(); ++i)
    twice += line[i][0] * line[i + 1][1] - line[i + 1][0] * line[i][1];
  return 0.5 * twice;
}

}  // namespace

// A circle of radius 15 steps: chords between the nodes take off about 1/(8 R^2) of the area, and straight
// interpolation of r^2 as much.
TEST_CASE("the outline of a cone is a circle, walked with the high side on its left") {
  const Outside outside("area of a circle");
  std::vector<double> values;
  for (int i = 0; i < 41; ++i)
    for (int j = 0; j < 41; ++j) values.push_back(-std::hypot(i - 20.0, j - 20.0));
  const auto lines = contours(values, {41, 41}, -15.0, Border::open);
  REQUIRE(lines.size() == 1);
  CHECK(lines[0].front() == lines[0].back());
  outside.matches("area of a contour", area(lines[0]), constant::pi * 225.0, 3e-3);
}

TEST_CASE("a region that reaches the edge is closed along it, or its line left open") {
  const std::vector<double> values{0, 0, 0, 1, 1, 1, 2, 2, 2};  // rises along the first axis
  const auto closed = contours(values, {3, 3}, 0.5, Border::below);
  REQUIRE(closed.size() == 1);
  CHECK(area(closed[0]) == relative(1.5 * 2.0));
  const auto open = contours(values, {3, 3}, 0.5, Border::open);
  REQUIRE(open.size() == 1);
  REQUIRE(open[0].size() == 3);
  CHECK(open[0][0][0] == relative(0.5));
  CHECK_FALSE(open[0].front() == open[0].back());
}

TEST_CASE("two hills have two outlines, with a saddle between them or not") {
  const std::vector<double> values{1, 0, 0, 1};
  CHECK(contours(values, {2, 2}, 0.4, Border::below).size() == 1);
  CHECK(contours(values, {2, 2}, 0.6, Border::below).size() == 2);
}
