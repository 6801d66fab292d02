#include "models/light/screen_colour.hpp"

#include <algorithm>
#include <cmath>

namespace driftglow::light {

std::array<double, 3> tristimulus(double x, double y) {
  return {x / y, 1.0, (1.0 - x - y) / y};
}

std::array<double, 3> screen_colour(const std::array<double, 3>& xyz) {
  const auto [X, Y, Z] = xyz;
  if (!(Y > 0.0)) return {0.0, 0.0, 0.0};
  std::array<double, 3> rgb{3.2406 * X - 1.5372 * Y - 0.4986 * Z, -0.9689 * X + 1.8758 * Y + 0.0415 * Z,
                            0.0557 * X - 0.2040 * Y + 1.0570 * Z};
  // White of the same Y is (Y, Y, Y).
  const double least = std::min({rgb[0], rgb[1], rgb[2]});
  if (least < 0.0) {
    const double keep = Y / (Y - least);
    for (double& component : rgb) component = std::max(0.0, Y + keep * (component - Y));
  }
  return rgb;
}

double encoded(double linear) {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1.0 / 2.4) - 0.055;
}

}  // namespace driftglow::light
