#include "models/air/gusts.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::air {
namespace {

// Density of t, sin t = distance/(2 radius), in [0, pi/2]: without the disc's root at its far end.
double distance_density(TagShape shape, double t) {
  const double x = std::sin(t), slope = std::cos(t);
  if (shape == TagShape::ball) return slope * x * x * (24.0 + x * (-36.0 + 12.0 * x * x));
  return slope * 16.0 / constant::pi * x * (0.5 * constant::pi - t - x * slope);
}

}  // namespace

double gust_share(TagShape shape, double radius, double length) {
  if (!(radius >= 0.0) || !(length > 0.0)) throw LogicError("gusts: radius or length out of range");
  if (radius == 0.0) return 1.0;
  const double ratio = 2.0 * radius / length;
  // Pieces as long as the correlation where the tag is long; beyond 40 lengths nothing is left.
  const double end = std::asin(std::min(1.0, 40.0 / ratio));
  const int pieces = 1 + static_cast<int>(ratio * end);
  double share = 0.0;
  for (int i = 0; i < pieces; ++i) {
    share += boost::math::quadrature::gauss<double, 15>::integrate(
        [&](double t) {
          const double lengths = ratio * std::sin(t);
          return distance_density(shape, t) * (1.0 - lengths / 3.0) * std::exp(-lengths);
        },
        end * i / pieces, end * (i + 1) / pieces);
  }
  return share;
}

}  // namespace driftglow::air
