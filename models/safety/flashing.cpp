#include "models/safety/flashing.hpp"

#include "models/error.hpp"

namespace driftglow::safety {
double sensitive_flash_share(std::span<const double> periods, std::span<const double> counts) {
  if (periods.size() != counts.size()) throw LogicError("flash periods and counts differ in length");
  double in_band = 0.0, all = 0.0;
  for (std::size_t i = 0; i < periods.size(); ++i) {
    if (!(periods[i] > 0.0) || !(counts[i] >= 0.0)) throw LogicError("flash period or count out of range");
    const double rate = 1.0 / periods[i];
    all += counts[i];
    if (rate >= sensitive_flash_rate_low && rate <= sensitive_flash_rate_high) in_band += counts[i];
  }
  return all > 0.0 ? in_band / all : 0.0;
}

}  // namespace driftglow::safety
