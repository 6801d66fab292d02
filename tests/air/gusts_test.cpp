#include "models/air/gusts.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "tests/outside.hpp"

using namespace driftglow::air;

// Closed limits: a tag far smaller than the eddies feels all of them, 1 - (4/3) <r>/L with the mean distance
// <r> of two points, 36/35 a in a ball and 128/(45 pi) a in a disc (Solomon, from memory; second route: the
// sampling below); one far larger what falls as the cube, or square, of L/a.
TEST_CASE("small tags feel all gusts, large ones few") {
  const Outside outside("Solomon, mean distance of points in a ball and a disc [memory]");
  CHECK(gust_share(TagShape::ball, 0.0, 0.01) == 1.0);
  const double small = 1e-4;
  outside.matches("gusts felt by a small tag", gust_share(TagShape::ball, small, 1.0),
                  1.0 - 4.0 / 3.0 * 36.0 / 35.0 * small, 1e-7);
  outside.matches("gusts felt by a small tag", gust_share(TagShape::disc, small, 1.0),
                  1.0 - 4.0 / 3.0 * 128.0 / (45.0 * 3.14159265358979) * small, 1e-7);
  // The trace's integral over space, 4 pi integral r^2 (1 - r/3L) e^(-r/L) dr = 0: energy falls faster than
  // volume.
  CHECK(gust_share(TagShape::ball, 1.0, 1e-3) < 1e-5);
  // In a plane 2 pi integral r (1 - r/3L) e^(-r/L) dr = 2/3 pi L^2, over the disc's area.
  outside.matches("gusts felt by a large disc", gust_share(TagShape::disc, 1.0, 1e-3), 2.0 / 3.0 * 1e-6,
                  0.01);
}

// Second route: pairs of random points; standard error of the mean of 4e5 values of a spread below 0.35:
// 6e-4, 5 of them.
TEST_CASE("the share is the mean correlation of pairs of points") {
  const Outside outside("pairs of random points, 5 standard errors");
  std::mt19937 random(1);
  std::uniform_real_distribution<double> side(-1.0, 1.0);
  const double radius = 0.015, length = 0.0133;
  for (const TagShape shape : {TagShape::ball, TagShape::disc}) {
    const auto point = [&](double(&p)[3]) {
      do {
        for (double& x : p) x = side(random);
        if (shape == TagShape::disc) p[2] = 0.0;
      } while (p[0] * p[0] + p[1] * p[1] + p[2] * p[2] > 1.0);
    };
    double sum = 0.0;
    constexpr int pairs = 400000;
    for (int i = 0; i < pairs; ++i) {
      double p[3], q[3];
      point(p), point(q);
      const double r = radius * std::hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]) / length;
      sum += (1.0 - r / 3.0) * std::exp(-r);
    }
    outside.near("gusts felt by a tag", gust_share(shape, radius, length), sum / pairs, 3e-3);
  }
}
