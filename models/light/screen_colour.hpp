#pragma once

#include <array>

namespace driftglow::light {

// CIE 1931 tristimulus values (2 degree observer) per unit of Y of a light of chromaticity (x, y):
// X = x/y, Y = 1, Z = (1 - x - y)/y. y > 0. [iso11664_1]
std::array<double, 3> tristimulus(double x, double y);

// A light as a screen can show it: linear components of sRGB [iec61966_2_1] for XYZ, white D65 of Y = 1 being
// (1, 1, 1). Spectral colours lie outside the screen's gamut: such a colour is mixed with D65 white of the
// same Y until no component is negative, which keeps its luminance and, about, its hue, and takes off
// colourfulness. Components may exceed 1: how bright a screen shows them is left to the caller. Y >= 0; black
// for Y = 0.
std::array<double, 3> screen_colour(const std::array<double, 3>& xyz);

// The encoded component 0..1 of a linear one in 0..1 (sRGB's transfer curve).
double encoded(double linear);

}  // namespace driftglow::light
