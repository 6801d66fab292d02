#include "tools/report/palette.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/light/screen_colour.hpp"

namespace driftglow::report {

std::array<int, 3> ramp(double t) {
  t = std::clamp(t, 0.0, 1.0);
  const double lightness = 0.20 + 0.76 * t, hue = (290.0 - 85.0 * t) * constant::pi / 180.0;
  const double chroma = 0.07 - 0.05 * t + 0.06 * std::sin(constant::pi * t);
  const double a = chroma * std::cos(hue), b = chroma * std::sin(hue);
  const auto cube = [](double x) { return x * x * x; };
  const double l = cube(lightness + 0.3963377774 * a + 0.2158037573 * b),
               m = cube(lightness - 0.1055613458 * a - 0.0638541728 * b),
               s = cube(lightness - 0.0894841775 * a - 1.2914855480 * b);
  const std::array linear{4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
                          -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
                          -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s};
  std::array<int, 3> colour{};
  for (int c = 0; c < 3; ++c)
    colour[c] = static_cast<int>(std::lround(255.0 * light::encoded(std::clamp(linear[c], 0.0, 1.0))));
  return colour;
}

std::string ramp_hex(double t) {
  const auto colour = ramp(t);
  return fmt::format("#{:02x}{:02x}{:02x}", colour[0], colour[1], colour[2]);
}

}  // namespace driftglow::report
