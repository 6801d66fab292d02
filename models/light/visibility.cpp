#include "models/light/visibility.hpp"

namespace driftglow::light {

double threshold_intensity(double threshold_illuminance, double distance) {
  return threshold_illuminance * distance * distance;
}

double luminous_intensity(double mean_current, double intensity, double intensity_current) {
  return intensity * (mean_current / intensity_current);
}

double current_for_intensity(double wanted, double intensity, double intensity_current) {
  return intensity_current * (wanted / intensity);
}

}  // namespace driftglow::light
