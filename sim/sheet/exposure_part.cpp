#include <cmath>

#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {

Exposure exposure_of(const FieldView& field, double frequency) {
  Exposure exposure{};
  if (!field.sources) {
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
