#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

// A field without sources inside is largest on the edge of where it is known.
double largest_rms_within(const FieldView& field, const coil::Reach& reach) {
  constexpr int around = 24, along = 33, across = 6;
  double largest = 0.0;
  for (int i = 0; i < around; ++i) {
    const double angle = 2.0 * constant::pi * i / around;
    const auto look = [&](double r, double z) {
      largest = std::max(largest, field.rms({r * std::cos(angle), r * std::sin(angle), z}));
    };
    for (int j = 0; j < along; ++j)
      look(reach.radius, reach.low + (reach.high - reach.low) * j / (along - 1));
    for (int k = 0; k < across; ++k) {
      look(reach.radius * k / across, reach.low);
      look(reach.radius * k / across, reach.high);
    }
  }
  return largest;
}

}  // namespace

Exposure exposure_of(const FieldView& field, double frequency) {
  Exposure exposure{};
  if (field.known_in) {
    exposure.inside_only = true;
    exposure.flux_density_rms = largest_rms_within(field, *field.known_in);
  } else if (!field.sources) {
    exposure.flux_density_rms = field.rms(Eigen::Vector3d::Zero());
  } else {
    exposure.clearance = exposure_clearance;
    const safety::OutsideField outside{[&](const Eigen::Vector3d& p) { return field.rms(p); },
                                       field.sources->symmetry};
    const auto& enclosure = field.sources->enclosure;
    exposure.flux_density_rms =
        safety::largest_at_distance(outside, enclosure, exposure_clearance).flux_density_rms;
    exposure.radiated = safety::radiated_fields(field.sources->moment.norm() / std::sqrt(2.0), frequency);
    for (const auto& level : safety::field_cautions(exposure.flux_density_rms, frequency)) {
      exposure.levels.push_back({level, safety::distance_below(outside, enclosure, level.level,
                                                               exposure_clearance, exposure_farthest)});
    }
    return exposure;
  }
  for (const auto& level : safety::field_cautions(exposure.flux_density_rms, frequency))
    exposure.levels.push_back({level, std::nullopt});
  return exposure;
}

}  // namespace driftglow::sheet
