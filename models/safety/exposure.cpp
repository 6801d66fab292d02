#include "models/safety/exposure.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::safety {
namespace {

// level = factor * frequency^exponent from `from` on.
struct ExposureBand {
  double from;  // Hz
  double factor, exponent;
};

// Flux density [T rms] over f [Hz].
constexpr ExposureBand public_2010[] = {
    {1.0, 4e-2, -2.0}, {8.0, 5e-3, -1.0}, {25.0, 2e-4, 0.0}, {400.0, 8e-2, -1.0}, {3e3, 2.7e-5, 0.0}};
constexpr ExposureBand occupational_2010[] = {
    {1.0, 0.2, -2.0}, {8.0, 2.5e-2, -1.0}, {25.0, 1e-3, 0.0}, {300.0, 0.3, -1.0}, {3e3, 1e-4, 0.0}};

// Field strength [A/m rms] over f [MHz].
constexpr ExposureBand public_2020[] = {{0.1, 2.2, -1.0}, {30.0, 0.073, 0.0}, {400.0, 0.0037, 0.5}};
constexpr ExposureBand occupational_2020[] = {{0.1, 4.9, -1.0}, {30.0, 0.16, 0.0}, {400.0, 0.008, 0.5}};

// The same, local exposure, 0.1 to 30 MHz.
constexpr ExposureBand public_2020_local[] = {{0.1, 4.9, -1.0}};
constexpr ExposureBand occupational_2020_local[] = {{0.1, 10.8, -1.0}};

double level(std::span<const ExposureBand> bands, double frequency) {
  auto band = bands.begin();
  while (band + 1 != bands.end() && frequency >= (band + 1)->from) ++band;
  return band->factor * std::pow(frequency, band->exponent);
}

}  // namespace

std::optional<double> reference_flux_density(Guideline guideline, Population population, double frequency,
                                             Extent extent) {
  if (!(frequency > 0.0)) throw LogicError("reference level asked for at a frequency that is not positive");
  const bool everyone = population == Population::general_public;
  if (guideline == Guideline::icnirp_2010) {
    if (frequency < 1.0 || frequency > 10e6) return std::nullopt;
    return everyone ? level(public_2010, frequency) : level(occupational_2010, frequency);
  }
  if (frequency < 100e3 || frequency > 2e9) return std::nullopt;
  const double megahertz = 1e-6 * frequency;
  if (extent == Extent::local) {
    if (megahertz > 10.0) return std::nullopt;
    return constant::mu_0 *
           (everyone ? level(public_2020_local, megahertz) : level(occupational_2020_local, megahertz));
  }
  return constant::mu_0 * (everyone ? level(public_2020, megahertz) : level(occupational_2020, megahertz));
}

std::vector<Caution> field_cautions(double flux_density_rms, double frequency) {
  if (!(flux_density_rms >= 0.0)) throw LogicError("flux density for the cautions is not 0 or more");
  std::vector<Caution> cautions;
  for (const auto guideline : {Guideline::icnirp_2010, Guideline::icnirp_2020}) {
    for (const auto population : {Population::general_public, Population::occupational}) {
      if (const auto limit = reference_flux_density(guideline, population, frequency)) {
        cautions.push_back({guideline, population, flux_density_rms, *limit});
      }
    }
  }
  std::stable_sort(cautions.begin(), cautions.end(),
                   [](const Caution& a, const Caution& b) { return a.level < b.level; });
  return cautions;
}

}  // namespace driftglow::safety
