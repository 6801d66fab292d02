#include "models/coil/litz.hpp"

#include <cmath>
#include <string>

#include "models/coil/round_wire.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {

void check(const Litz& litz, double bundle_diameter) {
  if (litz.strands < 2)
    throw InputError("the litz wire has " + std::to_string(litz.strands) + " strands; expected at least 2");
  if (!(std::isfinite(litz.strand_diameter) && litz.strand_diameter > 0.0))
    throw InputError("the litz wire's strand diameter must be greater than zero");
  if (!(litz.lay_factor >= 1.0 && litz.lay_factor <= 1.3))
    throw InputError("the litz wire's lay factor is " + std::to_string(litz.lay_factor) +
                     "; expected 1 to 1.3, strand length over bundle length");
  const double fill = litz.strands * std::pow(litz.strand_diameter / bundle_diameter, 2);
  if (!(fill <= 0.8))
    throw InputError("the litz wire's strands would fill " + std::to_string(std::lround(100.0 * fill)) +
                     " % of the bundle; round strands fill at most 80 %");
}

LitzResistance litz_resistance(const Litz& litz, double bundle_diameter, double resistivity,
                               double frequency) {
  const double r = 0.5 * litz.strand_diameter, b = 0.5 * bundle_diameter;
  const double omega = 2.0 * constant::pi * frequency;
  const double relative_radius = r / skin_depth(resistivity, frequency);
  LitzResistance result{};
  result.dc = litz.lay_factor * resistivity / (litz.strands * constant::pi * r * r);
  result.skin = result.dc * (internal_impedance_ratio(relative_radius).real() - 1.0);
  // P = I^2 R/2 with the peak current: the factor 2.
  result.external = litz.lay_factor * litz.strands * 2.0 * constant::pi * omega * constant::mu_0 * r * r *
                    transverse_loss_factor(relative_radius);
  result.internal = result.external / (8.0 * constant::pi * constant::pi * b * b);
  return result;
}

}  // namespace driftglow::coil
