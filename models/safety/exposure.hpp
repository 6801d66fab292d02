#pragma once

#include <optional>
#include <span>
#include <vector>

namespace driftglow::safety {

// Whom a level is meant for: anyone, or trained staff under known conditions.
enum class Population { general_public, occupational };

// icnirp_2010: nerve stimulation, 1 Hz to 10 MHz, at any instant. icnirp_2020: heating, 100 kHz to 300 GHz,
// whole body, averaged over 30 minutes. Between 100 kHz and 10 MHz both apply.
enum class Guideline { icnirp_2010, icnirp_2020 };

// Reference level of magnetic flux density [T rms] of the unperturbed field at a frequency [Hz]; empty where
// the guideline has none: 2010 outside 1 Hz to 10 MHz, 2020 outside 100 kHz to 2 GHz (above, it limits power
// density). The 2020 guideline states H [A/m]; in air B = mu0 H. Sources: [icnirp2010] tables 3 and 4,
// [icnirp2020] table 5. LogicError unless frequency > 0.
std::optional<double> reference_flux_density(Guideline guideline, Population population, double frequency);

// A measured or computed value beside a published level. Neither a verdict nor a proof of safety: local rules
// decide.
struct Caution {
  Guideline guideline;
  Population population;
  double value;  // T rms
  double level;  // T rms

  double ratio() const { return value / level; }
};

// The field [T rms] at a place beside every level that applies at the frequency [Hz], strictest first; those
// with ratio() > 1 call for a caution. LogicError unless frequency > 0 and flux density >= 0.
std::vector<Caution> field_cautions(double flux_density_rms, double frequency);

// Flashes per second that most often trigger photosensitive epilepsy, ends included: 3 to 30 Hz [fisher2005];
// web accessibility rules draw the line at three flashes in a second [wcag22].
inline constexpr double sensitive_flash_rate_low = 3.0;
inline constexpr double sensitive_flash_rate_high = 30.0;

// Share [1] of flashes whose rate, one over the time [s] since the flash before, lies in the sensitive band.
// periods > 0 (histogram bins' centres or single values) with their counts >= 0, same length, else
// LogicError; 0 without flashes. Does not see that several tags flash together.
double sensitive_flash_share(std::span<const double> periods, std::span<const double> counts);

}  // namespace driftglow::safety
