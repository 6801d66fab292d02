#include "models/light/visibility.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::light;

namespace {

// Allard's law with the standard transmissivity 0.74 per nautical mile: the intensity whose nominal range is
// `miles`.
double intensity_of_nominal_range(double threshold, double miles) {
  return threshold_intensity(threshold, 1852.0 * miles) / std::pow(0.74, miles);
}

}  // namespace

// Second route for the night value, which stands in the code from memory: the table of nominal ranges of the
// same IALA recommendation and of national lists of lights gives about 1 400 cd for 10 M (from memory; 2 %
// covers the table's rounding to two digits).
TEST_CASE("the night threshold reproduces the nominal ranges of lists of lights") {
  const Outside outside("IALA nominal ranges and national lists of lights [memory]");
  outside.matches("intensity seen at 10 nautical miles by night [cd]",
                  intensity_of_nominal_range(threshold_dark_night, 10.0), 1400.0, 0.02);
}

// Another second route: 0 lx-magnitude relation m = -14.18 - 2.5 log10(E/lx) (astronomy, from memory). The
// night threshold is a star of magnitude 2.6, easily seen; the day threshold is -6.7, brighter than Venus at
// its best (-4.9), which is just seen in daylight by those who know where to look.
TEST_CASE("thresholds lie where stars say") {
  const Outside outside("lux and stellar magnitude (astronomy) [memory]");
  const auto magnitude = [](double illuminance) { return -14.18 - 2.5 * std::log10(illuminance); };
  CHECK(magnitude(threshold_dark_night) > 1.0);
  outside.below("magnitude of the night threshold, limit of the naked eye", magnitude(threshold_dark_night),
                6.0);
  CHECK(magnitude(threshold_day) < -4.9);
  CHECK(threshold_dark_night < threshold_minor_light);
  CHECK(threshold_minor_light < threshold_bright_light);
  CHECK(threshold_bright_light < threshold_day);
}

TEST_CASE("intensity and current are proportional and inverse to each other") {
  CHECK(luminous_intensity(0.2e-3, 60e-3, 20e-3) == relative(0.6e-3, 1e-15));
  CHECK(current_for_intensity(0.6e-3, 60e-3, 20e-3) == relative(0.2e-3, 1e-15));
  CHECK(threshold_intensity(2e-5, 3.0) == relative(1.8e-4, 1e-15));
}
