#include "models/safety/radiated.hpp"

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::safety {
namespace {

using constant::pi;

constexpr double limit_distance = 10.0;  // m

// Limit at `from` [Hz], falling by 3 dB an octave (10 dB a decade) from there on, or level.
enum class Slope { level, falling };
struct EmissionBand {
  double from, to;  // Hz
  double limit;     // dB over 1 uA/m at 10 m
  Slope slope;
};

// Narrow bands before the wide ones that they lie in.
constexpr EmissionBand bands[] = {
    {9e3, 30e3, 72.0, Slope::level},          {30e3, 90e3, 72.0, Slope::falling},
    {90e3, 119e3, 42.0, Slope::level},        {119e3, 135e3, 66.0, Slope::falling},
    {135e3, 140e3, 42.0, Slope::level},       {140e3, 148.5e3, 37.7, Slope::level},
    {3.155e6, 3.4e6, 13.5, Slope::level},     {6.765e6, 6.795e6, 42.0, Slope::level},
    {7.4e6, 8.8e6, 9.0, Slope::level},        {10.2e6, 11e6, 9.0, Slope::level},
    {13.553e6, 13.567e6, 42.0, Slope::level}, {26.957e6, 27.283e6, 42.0, Slope::level},
    {148.5e3, 5e6, -15.0, Slope::level},      {5e6, 30e6, -20.0, Slope::level},
};

}  // namespace

double dipole_field_strength(double moment_rms, double frequency, double distance) {
  if (!(moment_rms >= 0.0) || !(frequency > 0.0) || !(distance > 0.0))
    throw LogicError("field of a dipole: moment, frequency or distance out of range");
  const double kr = 2.0 * pi * frequency / constant::light_speed * distance;
  const double near = moment_rms / (4.0 * pi * distance * distance * distance);
  return near * std::max(2.0 * std::hypot(1.0, kr), std::hypot(1.0 - kr * kr, kr));
}

double decibel_microampere(double field_strength) {
  return 20.0 * std::log10(1e6 * field_strength);
}

std::optional<double> short_range_limit(double frequency) {
  if (!(frequency > 0.0)) throw LogicError("short-range limit asked for at a frequency that is not positive");
  for (const auto& band : bands) {
    if (frequency < band.from || frequency >= band.to) continue;
    return band.limit - (band.slope == Slope::falling ? 10.0 * std::log10(frequency / band.from) : 0.0);
  }
  return std::nullopt;
}

std::array<RadiatedField, 3> radiated_fields(double moment_rms, double frequency) {
  const auto limit = short_range_limit(frequency);
  const double reference = decibel_microampere(dipole_field_strength(1.0, frequency, limit_distance));
  std::array<RadiatedField, 3> fields{};
  constexpr double distances[] = {3.0, 10.0, 30.0};
  for (std::size_t i = 0; i < fields.size(); ++i) {
    const double distance = distances[i];
    const double unit = decibel_microampere(dipole_field_strength(1.0, frequency, distance));
    fields[i] = {distance, decibel_microampere(dipole_field_strength(moment_rms, frequency, distance)),
                 limit ? std::optional(*limit + unit - reference) : std::nullopt};
  }
  return fields;
}

}  // namespace driftglow::safety
