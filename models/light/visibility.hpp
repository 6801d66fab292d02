#pragma once

namespace driftglow::light {

// Threshold illuminance at the eye [lx] for seeing a steady point of light, as used for marine signal lights
// [iala_e200_2]: dark night, minor and substantial background lighting, day. Conservative values of practice:
// a dark-adapted observer who knows where to look sees less.
inline constexpr double threshold_dark_night = 2e-7;
inline constexpr double threshold_minor_light = 2e-6;
inline constexpr double threshold_bright_light = 2e-5;
inline constexpr double threshold_day = 1e-3;

// Luminous intensity [cd] that gives `threshold_illuminance` [lx] at `distance` [m]: I = E d^2 (inverse
// square law, point source, air clear over the distance; Allard's law without extinction).
double threshold_intensity(double threshold_illuminance, double distance);

// LED light is taken proportional to its mean forward current (no droop at high, no loss of efficiency at low
// current, temperature of the data sheet): `intensity` [cd] on axis at `intensity_current` [A].
double luminous_intensity(double mean_current, double intensity, double intensity_current);  // cd

// Inverse of the above: the mean current [A] for a wanted intensity [cd].
double current_for_intensity(double wanted, double intensity, double intensity_current);

}  // namespace driftglow::light
