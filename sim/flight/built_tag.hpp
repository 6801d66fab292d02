#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "models/receiver/glow_curve.hpp"
#include "sim/flight/random.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::flight {

// Mean LED current against linkage, evenly spaced from zero to the most that any place can give; straight
// lines between.
class CurrentTable {
 public:
  CurrentTable() = default;
  CurrentTable(double linkage_max, std::vector<double> mean_current);

  // Mean LED current [A] at a linkage amplitude >= 0; the last value beyond the end.
  double at(double linkage) const {
    const double x = linkage * nodes_per_linkage_;
    const double last = static_cast<double>(mean_current_.size()) - 1.0;
    const double inside = x < last ? x : last;
    const auto i = static_cast<std::size_t>(inside);
    const std::size_t next = i + 1 < mean_current_.size() ? i + 1 : i;
    const double t = inside - static_cast<double>(i);
    return mean_current_[i] + t * (mean_current_[next] - mean_current_[i]);
  }

 private:
  double nodes_per_linkage_ = 0.0;
  std::vector<double> mean_current_{0.0};
};

// One electrical fit of one built tag as the step needs it. Linkages are amplitudes of the flux linkage [Wb],
// or of B.n [T] where the receiver is a plain threshold.
struct BuiltFit {
  double on_linkage_squared;           // lit from here on
  double over_rating_linkage_squared;  // a rating of the LED is exceeded from here on; infinity: never
  CurrentTable current;
};

// A tag's electrical side as designed; what its tolerances act on.
struct TankPlan {
  double inductance, resistance;  // H, ohm at the drive's frequency
  double capacitance;             // F
  double loss_tangent;            // 1
  scenario::Tolerances tolerances;
};

struct LedPlan {
  std::string emitter;
  std::string colour;
  receiver::LedLaw law;
  double worst_residual;                            // V, of the law at the data-sheet points
  double junction_capacitance;                      // F
  double on_mean_current;                           // A, at which it counts as lit
  double intensity_per_current;                     // cd/A
  double mean_current_rating, peak_current_rating;  // A
  double reverse_voltage_rating;                    // V
};

// Draws L, C and the LED's voltage (uniform within the tolerances, one draw each, LED once a fit) and solves
// the glow curve.
std::vector<BuiltFit> build_tag(const TankPlan& tank, const std::vector<LedPlan>& leds, double omega,
                                double linkage_max, pcg32& stream);

// The tank with no tolerance drawn, for the design sheet.
receiver::TankDesign nominal_tank(const TankPlan& tank, const LedPlan& led);

// EMF [V peak] from which a rating of the LED is exceeded, by bisection on the curve; infinity if not up to
// its end.
double over_rating_emf(const receiver::GlowCurve& curve, const LedPlan& led);

}  // namespace driftglow::flight
