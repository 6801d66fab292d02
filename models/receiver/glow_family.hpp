#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "models/receiver/steady_state.hpp"

namespace driftglow::receiver {

// A tank design and how far built ones lie from it, to either side.
struct ToleranceBox {
  TankDesign centre;
  double inductance, capacitance;     // 1, relative, 0 <= tolerance < 1
  double led_voltage;                 // V >= 0, shift of the LED's forward voltage
  double antiparallel_voltage = 0.0;  // V >= 0, of the second LED's, where there is one
};

// Place of one built tag in the box.
struct BuiltOffset {
  double inductance, capacitance;     // 1, relative
  double led_voltage;                 // V
  double antiparallel_voltage = 0.0;  // V, of the second LED where there is one
};
TankDesign built_design(const TankDesign& centre, const BuiltOffset& offset);

// Limits whose EMF is asked for. All > 0.
struct GlowLimits {
  double on_mean_current;                           // A, lit from here on
  double mean_current_rating, peak_current_rating;  // A
  double reverse_voltage_rating;                    // V
  // Of antiparallel LEDs: lit where the first one's mean current + weight x the second's reaches
  // on_mean_current; the ratings above are the first one's.
  struct Second {
    double weight;                                    // 1
    double mean_current_rating, peak_current_rating;  // A
    double reverse_voltage_rating;                    // V
  };
  std::optional<Second> second = std::nullopt;
};

// What one built tag does up to emf_max: like GlowCurve, from a family.
class FamilyCurve {
 public:
  // Mean current [A], of a pair the weighted sum, at a peak EMF > 0 given by its natural logarithm; below the
  // lowest level and above the highest the last slope is continued.
  double mean_current_at_log(double log_emf) const;

  // The same at rising EMFs, in one walk along the curve: `current[i]` at `log_emf[i]`.
  void mean_current_at_log(std::span<const double> log_emf, std::span<double> current) const;

  // Of a pair the mean currents of either LED [A]; beyond the levels their shares are held.
  struct Currents {
    double first, second;
  };
  Currents currents_at_log(double log_emf) const;

  // EMF [V peak] from which the limit is reached; infinity where that is above emf_max.
  double on_emf() const { return on_emf_; }
  double over_rating_emf() const { return over_rating_emf_; }

 private:
  friend class GlowFamily;
  double current_within(std::size_t i, double log_emf) const;
  double log_emf_at(double log_current) const;

  double lowest_ = 0.0, step_ = 0.0;  // ln A, of the levels
  std::vector<double> log_emf_;       // at the levels
  std::vector<double> emf_slope_;     // d ln E/d ln I there
  std::vector<double> log_share_[2];  // ln of either LED's mean current over the weighted sum, there
  double on_emf_ = 0.0, over_rating_emf_ = 0.0;
};

// The response of one tank design and LED over the box of its tolerances, for designs of which very many are
// built: curves are solved at few nodes of the box and interpolated between them.
//
// What is interpolated: at levels of the mean current, evenly spaced in its logarithm, ln of the EMF that
// gives it (smooth, where the current itself has a knee that moves over the box), less that of the first
// harmonic's balance
//   E = |V (1 + Z Y) + Z I_1|,  E - V = Z I, I = Y V + I_1 as in LinearResponse.
// I_1 is the LED's current and V + shift the node's voltage at the drive frequency, both taken from the curve
// in the middle of the box and held over it (describing function, Krylov & Bogoliubov 1943 [krylov1943]).
// That carries the resonance; a few polynomials carry the rest: Lagrange on Chebyshev's extrema, a tensor in
// L, C and shift, one node where the tolerance is zero. All curves are followed to the same highest current,
// whatever EMF that takes, so no node lacks a threshold that others have.
//
// Antiparallel LEDs: the levels are of the weighted sum of GlowLimits, the shares of either LED and what the
// second is rated for are interpolated as well, its shift is a fourth dimension, and the balance takes the
// mean of both shifts weighted with the LEDs' currents in the middle of the box.
//
// Work comes in rounds of independent jobs, so that the caller may spread them over threads:
//   while (!family.finished()) { for each i < family.jobs(): family.solve(i);  family.next_round(); }
// Round 1 looks for the highest current and the time steps needed, round 2 solves the first nodes and the
// probes (again with closer or more levels where they turn out too far apart or too few), further rounds more
// nodes in the dimensions that need them until the error at the probes is as wanted or `most_nodes` is
// reached. Nothing depends on the order of jobs within a round.
class GlowFamily {
 public:
  static constexpr int most_nodes = 320;
  static constexpr double wanted_emf_error = 5e-5, wanted_current_error = 1e-3;

  // omega > 0 [rad/s], emf_max > 0 [V peak]. Throws InputError for an invalid design, LogicError for the
  // rest, as where only one of box and limits has a second LED.
  GlowFamily(const ToleranceBox& box, const GlowLimits& limits, double omega, double emf_max);

  bool finished() const { return stage_ == Stage::finished; }
  std::size_t jobs() const { return pending_.size(); }
  void solve(std::size_t job);  // different jobs may run at once
  void next_round();

  // Once finished. False: the box is too wide or its curves too odd to be interpolated as wanted; each built
  // tag must be solved by itself.
  bool usable() const { return usable_; }

  // The largest found at the probes, places of a fixed sequence in the box that were solved by themselves.
  struct Error {
    double emf;  // 1, of the EMF at a given current from a thirtieth of the highest or half the wanted on
                 // current, whichever is lower
    // 1, of the mean current, or of 3 % of the tag's current at emf_max where that is more; of a pair also of
    // either LED's part of the sum
    double current;
    double rating;  // 1, of the EMF where a rating is exceeded
  };
  const Error& error() const { return error_; }
  int curves() const { return discarded_ + static_cast<int>(curves_.size()); }  // solved in all, with probes
  const std::array<int, 4>& nodes() const { return nodes_; }                    // in L, C, LED voltages
  int time_steps() const { return time_steps_; }                                // a period

  // Curve of a built tag inside the box. Throws LogicError unless usable.
  FamilyCurve at(const BuiltOffset& offset) const;

 private:
  enum class Stage { scouts, nodes, finished };
  static constexpr int dimensions = 4;
  using Place = std::array<double, dimensions>;  // -1 ... 1 in each
  using Nodes = std::array<int, dimensions>;

  // What is known at a level, for a single LED the first three: ln E, ln(peak current/I), ln reverse peak; ln
  // of the first's and the second's mean current over I, ln(the second's peak current/I), ln forward peak. I
  // is the mean current, of a pair the weighted sum.
  enum Kind { level_emf, peak, reverse, first_share, second_share, second_peak, forward, most_kinds };
  struct Point {
    double log_current;
    double value[most_kinds], slope[most_kinds];  // slopes by ln I
    std::complex<double> coil_current, coil_slope;
  };
  struct Curve {
    Place place;
    bool regular = true;
    std::vector<Point> points;
    std::vector<std::complex<double>> coil_current;
    std::vector<double> levels;  // kinds_ values a level
  };
  struct Scout {
    Place place;
    double current = 0.0;
    int time_steps = 0;
  };

  BuiltOffset offset_at(const Place& place) const;
  double glow_current(const OperatingPoint& point) const;
  double middle_shift(int level, const BuiltOffset& offset) const;
  void scout(Scout& scout) const;
  void follow(Curve& curve) const;
  void start_levels();
  void ask_for_nodes();
  void take_middle();
  void add_balance(const TankDesign& design, const BuiltOffset& offset, double sign,
                   std::vector<double>& levels) const;
  std::vector<double> interpolated(const Place& place, const Nodes& nodes) const;
  FamilyCurve curve_at(const Place& place) const;
  FamilyCurve curve_of(const std::vector<double>& levels, double gain) const;
  double least_log_current(double top) const;
  bool ends_early() const;
  double level_error() const;
  void measure();
  double share_error(const Curve& probe, double top) const;
  double emf_change(int dimension) const;
  bool refine();

  ToleranceBox box_;
  GlowLimits limits_;
  double omega_, emf_max_;
  Stage stage_ = Stage::scouts;
  bool usable_ = false;
  Error error_{};
  Nodes nodes_{};
  int kinds_;
  int time_steps_ = 0;
  double lowest_ = 0.0, step_ = 0.0;  // ln A
  int levels_ = 0;
  double level_step_ = 0.4;  // in ln I, at most; also about that of the points
  double headroom_ = 1.15;   // of the highest level over the scouts' currents
  int discarded_ = 0;        // curves with too few levels
  // First harmonics at the LED, at the levels: V less the shift; A against that voltage as real.
  std::vector<double> middle_voltage_;
  std::vector<double> middle_share_;  // 1, of the LEDs' current, the first's
  std::vector<std::complex<double>> middle_led_current_;
  std::vector<Scout> scouts_;
  std::vector<Curve> curves_;  // probes first
  std::size_t probes_ = 0;
  std::size_t reduced_ = 0;           // curves before this one are probes or have the balance taken off
  std::vector<int> curve_at_;         // by place on the finest grid; -1: not solved
  std::vector<std::size_t> pending_;  // scouts or curves
};

}  // namespace driftglow::receiver
