#include "models/light/screen_colour.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::light;

// Primaries and white of IEC 61966-2-1 (the standard prints four decimals of the matrix: 5e-4).
TEST_CASE("the screen's own primaries and white come out pure") {
  const Outside outside("IEC 61966-2-1, primaries and white");
  const struct {
    double x, y;
    int component;
  } primaries[] = {{0.64, 0.33, 0}, {0.30, 0.60, 1}, {0.15, 0.06, 2}};
  for (const auto& primary : primaries) {
    const auto rgb = screen_colour(tristimulus(primary.x, primary.y));
    for (int c = 0; c < 3; ++c)
      if (c != primary.component) CHECK(rgb[c] < 5e-3 * rgb[primary.component]);
  }
  for (const double component : screen_colour(tristimulus(0.3127, 0.3290)))
    outside.matches("components of the screen's white", component, 1.0, 1e-3);
}

// Luminance weights of ITU-R BT.709, a second route to Y.
TEST_CASE("a colour outside the gamut keeps its luminance and loses nothing below zero") {
  const Outside outside("ITU-R BT.709, luminance weights");
  for (const auto& xy : {std::array{0.170, 0.700}, std::array{0.453, 0.545}, std::array{0.700, 0.299}}) {
    const auto rgb = screen_colour(tristimulus(xy[0], xy[1]));
    outside.matches("luminance of a colour outside the gamut",
                    0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2], 1.0, 1e-3);
    CHECK(std::min({rgb[0], rgb[1], rgb[2]}) >= 0.0);
    CHECK(std::min({rgb[0], rgb[1], rgb[2]}) < 1e-12);
  }
  CHECK(screen_colour({0.0, 0.0, 0.0})[0] == 0.0);
}

TEST_CASE("two lights add") {
  const auto red = tristimulus(0.64, 0.33), blue = tristimulus(0.15, 0.06);
  const auto both = screen_colour({red[0] + blue[0], 2.0, red[2] + blue[2]});
  const auto alone = screen_colour(red);
  CHECK(both[0] == relative(alone[0], 5e-3));
}

// Mid grey of the standard: linear 0.2140 is code 127.5 of 255.
TEST_CASE("the transfer curve meets its ends, joins smoothly and has the standard's middle") {
  const Outside outside("IEC 61966-2-1, transfer curve");
  CHECK(encoded(0.0) == 0.0);
  CHECK(encoded(1.0) == relative(1.0, 1e-12));
  outside.matches("the transfer curve at its joint", encoded(0.0031308), encoded(0.00313081), 1e-4);
  outside.matches("mid grey of the transfer curve", encoded(0.21404), 0.5, 1e-4);
}
