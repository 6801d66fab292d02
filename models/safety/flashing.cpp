#include "models/safety/flashing.hpp"

#include <boost/math/special_functions/gamma.hpp>

#include "models/error.hpp"

namespace driftglow::safety {
namespace {

bool sensitive(double rate) {
  return rate >= sensitive_flash_rate_low && rate <= sensitive_flash_rate_high;
}

template <class Weight>
double share(std::span<const double> periods, std::span<const double> counts, const Weight& weight) {
  if (periods.size() != counts.size()) throw LogicError("flash periods and counts differ in length");
  double in_band = 0.0, all = 0.0;
  for (std::size_t i = 0; i < periods.size(); ++i) {
    if (!(periods[i] > 0.0) || !(counts[i] >= 0.0)) throw LogicError("flash period or count out of range");
    const double part = counts[i] * weight(periods[i]);
    all += part;
    if (sensitive(1.0 / periods[i])) in_band += part;
  }
  return all > 0.0 ? in_band / all : 0.0;
}

}  // namespace

double sensitive_flash_share(std::span<const double> periods, std::span<const double> counts) {
  return share(periods, counts, [](double) { return 1.0; });
}

double sensitive_time_share(std::span<const double> periods, std::span<const double> counts) {
  return share(periods, counts, [](double period) { return period; });
}

double sensitive_tag_share(std::span<const double> flashes_per_minute) {
  double count = 0.0;
  for (const double rate : flashes_per_minute) {
    if (!(rate >= 0.0)) throw LogicError("flashes per minute are not 0 or more");
    count += sensitive(rate / 60.0) ? 1.0 : 0.0;
  }
  return flashes_per_minute.empty() ? 0.0 : count / static_cast<double>(flashes_per_minute.size());
}

double crowded_second_share(double flashes_per_minute) {
  if (!(flashes_per_minute >= 0.0)) throw LogicError("flashes per minute are not 0 or more");
  // The Poisson tail above three is the regularised incomplete gamma function P(4, x): no cancellation at
  // small x.
  return boost::math::gamma_p(4.0, flashes_per_minute / 60.0);
}

}  // namespace driftglow::safety
