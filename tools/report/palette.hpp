#pragma once

#include <array>
#include <string>

namespace driftglow::report {

// The maps' colours, t in 0..1 (clamped): from night violet through sea blue to pale ice. Lightness rises
// evenly in Oklab [ottosson2020], so that equal steps look equal and the order holds with any colour vision
// and in grey. Ours. Components of sRGB, 0..255.
std::array<int, 3> ramp(double t);
std::string ramp_hex(double t);  // "#rrggbb"

}  // namespace driftglow::report
