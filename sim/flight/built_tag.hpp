#pragma once

#include <cstddef>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

#include "models/receiver/glow_curve.hpp"
#include "models/receiver/glow_family.hpp"
#include "sim/flight/random.hpp"
#include "sim/parallel/pool.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::flight {

// Mean LED current against linkage at evenly spaced nodes from zero to the most that any place can give;
// straight lines between.
class CurrentTable {
 public:
  // Measured on the demo's fits: the lines miss the current of a lit tag by 0.06 % at most where it comes on
  // at a third of the largest linkage, by 0.17 % at a sixth; half as many intervals by four times that.
  static constexpr int intervals = 256;

  CurrentTable() = default;

  // From the current at the nodes, `intervals` + 1 of them and finite. What is kept lies lower by what chords
  // lie above the curve on average, a twelfth of the second difference: the lines' mean error is nil to the
  // leading order, their largest two thirds of a chord's.
  CurrentTable(double linkage_max, std::vector<double> mean_current);

  std::span<const double> nodes() const { return mean_current_; }  // A
  double nodes_per_linkage() const { return nodes_per_linkage_; }  // 1/Wb

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
  CurrentTable current;                // of the LED, of a pair the first
  receiver::BuiltOffset offset{};      // what was drawn
  std::optional<CurrentTable> antiparallel_current{};  // of a pair's second LED
};

// How a built drive differs from the computed one, relative; linkages stay those of the computed one.
struct DriveDraw {
  double frequency = 1.0;
  double current = 1.0;  // of the coils

  double emf() const { return frequency * current; }  // per linkage
};

// What the draws of a flight lie within.
struct DriveSpan {
  double frequency_low = 1.0, frequency_high = 1.0, emf_high = 1.0;
};

// A tag's electrical side as designed; what its tolerances act on.
struct TankPlan {
  double inductance, resistance;  // H, ohm at the drive's frequency
  double capacitance;             // F
  double loss_tangent;            // 1
  scenario::Tolerances tolerances;
};

// The second LED of an antiparallel pair.
struct AntiparallelLed {
  std::string emitter;
  std::string colour;
  receiver::LedLaw law;
  double worst_residual;                            // V, of the law at the data-sheet points
  double intensity_per_current;                     // cd/A
  double mean_current_rating, peak_current_rating;  // A
  double reverse_voltage_rating;                    // V
  double on_weight;                                 // 1, see LedPlan
};

// What a tank carries: an LED or an antiparallel pair. A pair counts as lit where the mean current of the
// first and on_weight x that of the second reach on_mean_current: the light of both together where the light
// decides (the weight is their ratio of intensity per current), the sum of their currents where a threshold
// current is given (weight 1).
struct LedPlan {
  std::string emitter;
  std::string colour;
  receiver::LedLaw law;
  double worst_residual;                            // V, of the law at the data-sheet points
  double junction_capacitance;                      // F, of a pair that of both
  double on_mean_current;                           // A, at which it counts as lit
  double intensity_per_current;                     // cd/A
  double mean_current_rating, peak_current_rating;  // A
  double reverse_voltage_rating;                    // V
  double remaining_capacitance = 1.0;  // 1, of the tank's capacitor at the voltage that lights it
  std::optional<AntiparallelLed> antiparallel{};

  receiver::GlowCurve::Weights on_weights() const {
    return {1.0, antiparallel ? antiparallel->on_weight : 0.0};
  }
};

// All that is needed to build tags of one design: a family of glow curves for each fit. The families are
// solved in rounds of independent jobs as GlowFamily's; solve_all does so on threads.
class GlowFamilies {
 public:
  // omega > 0 [rad/s], linkage_max > 0 [Wb], LedPlans as in DesignPlan.
  GlowFamilies(const TankPlan& tank, const std::vector<LedPlan>& leds, double omega, double linkage_max,
               const DriveSpan& span = {});

  bool finished() const;
  std::size_t jobs() const;
  void solve(std::size_t job);  // different jobs may run at once
  void next_round();

  // Once finished: for a drive within the span draws L, C and the LEDs' voltages (uniform within the
  // tolerances, one draw each, LEDs once a fit) and gives what the family's curve says; solves the tag's own
  // curve (some milliseconds) where the family is not usable. May be called from several threads. Throws
  // LogicError when not finished.
  std::vector<BuiltFit> build(pcg32& stream, const DriveDraw& drive = {}) const;

  const std::vector<receiver::GlowFamily>& families() const { return families_; }  // one a fit

 private:
  TankPlan tank_;
  std::vector<LedPlan> leds_;
  double omega_, linkage_max_;
  std::vector<double> log_emf_;  // of the tables' nodes but the first, which is at zero
  std::vector<receiver::GlowFamily> families_;
};

// Same families whatever the thread count. `stopped` leaves them unfinished.
parallel::Outcome solve_all(std::span<GlowFamilies> designs, int threads, const std::stop_token& stop = {});

// As GlowFamilies::build, always by the tag's own glow curve.
std::vector<BuiltFit> build_tag(const TankPlan& tank, const std::vector<LedPlan>& leds, double omega,
                                double linkage_max, pcg32& stream, const DriveDraw& drive = {});

// The tank with no tolerance drawn, for the design sheet.
receiver::TankDesign nominal_tank(const TankPlan& tank, const LedPlan& led);

// EMF [V peak] from which a rating of the LED is exceeded, by bisection on the curve; infinity if not up to
// its end.
double over_rating_emf(const receiver::GlowCurve& curve, const LedPlan& led);

}  // namespace driftglow::flight
