#include "tools/report/palette.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/relative.hpp"

using namespace driftglow::report;

namespace {

using Colour = std::array<double, 3>;

Colour linear(double t) {
  Colour colour{};
  const auto code = ramp(t);
  for (int c = 0; c < 3; ++c) {
    const double v = code[c] / 255.0;
    colour[c] = v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
  }
  return colour;
}

double lightness(const Colour& c) {  // CIE L* of the luminance (ITU-R BT.709)
  const double y = 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2];
  return y > 0.008856 ? 116.0 * std::cbrt(y) - 16.0 : 903.3 * y;
}

// Linear sRGB as protanopes and deuteranopes see it [vienot1999], from memory: rows sum to one, so that grey
// stays grey, checked below.
constexpr double protan[3][3] = {{0.11238, 0.88762, 0.0}, {0.11238, 0.88762, 0.0}, {0.00401, -0.00401, 1.0}};
constexpr double deutan[3][3] = {{0.29275, 0.70725, 0.0}, {0.29275, 0.70725, 0.0}, {-0.02234, 0.02234, 1.0}};

Colour seen(const double (&matrix)[3][3], const Colour& c) {
  Colour out{};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) out[i] += matrix[i][j] * c[j];
  return out;
}

}  // namespace

TEST_CASE("the maps' colours rise evenly in lightness, for any colour vision") {
  constexpr int steps = 16;
  const double span = lightness(linear(1.0)) - lightness(linear(0.0));
  CHECK(span > 75.0);
  for (int i = 0; i < steps; ++i) {
    const Colour a = linear(static_cast<double>(i) / steps), b = linear((i + 1.0) / steps);
    const double rise = lightness(b) - lightness(a);
    // Oklab's lightness and CIE's differ in the dark: a third.
    CHECK(rise == relative(span / steps, 0.35));
    CHECK(lightness(seen(protan, b)) > lightness(seen(protan, a)) + 1.5);
    CHECK(lightness(seen(deutan, b)) > lightness(seen(deutan, a)) + 1.5);
  }
  for (const auto& matrix : {protan, deutan})
    for (int i = 0; i < 3; ++i) CHECK(matrix[i][0] + matrix[i][1] + matrix[i][2] == relative(1.0, 1e-4));
}

TEST_CASE("the ends of the ramp hold beyond it") {
  CHECK(ramp(-1.0) == ramp(0.0));
  CHECK(ramp(2.0) == ramp(1.0));
  CHECK(ramp_hex(0.0).size() == 7);
}
