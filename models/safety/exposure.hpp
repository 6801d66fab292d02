#pragma once

#include <optional>
#include <vector>

#include "models/safety/flashing.hpp"

namespace driftglow::safety {

// Whom a level is meant for: anyone, or trained staff under known conditions.
enum class Population { general_public, occupational };

// icnirp_2010: nerve stimulation, 1 Hz to 10 MHz, at any instant. icnirp_2020: heating, 100 kHz to 300 GHz,
// whole body, averaged over 30 minutes. Between 100 kHz and 10 MHz both apply.
enum class Guideline { icnirp_2010, icnirp_2020 };

// Part of the body that a level of 2020 is meant for: all of it, averaged over 30 minutes, or the part in the
// field, averaged over 6. Those of 2010 make no difference.
enum class Extent { whole_body, local };

// Reference level of magnetic flux density [T rms] of the unperturbed field at a frequency [Hz]; empty where
// the guideline has none: 2010 outside 1 Hz to 10 MHz, 2020 outside 100 kHz to 2 GHz (above, it limits power
// density), local outside 100 kHz to 10 MHz here. The 2020 guideline states H [A/m]; in air B = mu0 H. Its
// levels of nerve stimulation (table 8) are those of 2010. Sources, from memory: [icnirp2010] tables 3 and 4,
// [icnirp2020] tables 5 and 6. LogicError unless frequency > 0.
std::optional<double> reference_flux_density(Guideline guideline, Population population, double frequency,
                                             Extent extent = Extent::whole_body);

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

}  // namespace driftglow::safety
