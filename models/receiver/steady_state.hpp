#pragma once

#include <Eigen/Core>
#include <vector>

#include "models/receiver/tank.hpp"

namespace driftglow::receiver {

// What a tag does in the periodic steady state at one amplitude of its EMF, or the derivative of that by the
// amplitude.
struct OperatingPoint {
  double emf_peak;      // V
  double mean_current;  // A, forward LED current averaged over the period; reverse current gives no light and
                        // is left out
  double peak_current;  // A, largest LED current
  double forward_peak;  // V, largest node voltage
  double reverse_peak;  // V >= 0, largest reverse node voltage
  double real_power;    // W, mean power that the EMF delivers to the tag
  double reactive_power;  // var, positive where the coil's current lags the EMF
  // Of the second, antiparallel LED; zero without. Its reverse peak is forward_peak.
  double mean_current_antiparallel = 0.0;  // A
  double peak_current_antiparallel = 0.0;  // A
  // Where the real power goes, each the mean of its own product over the period; their sum meets it to the
  // error of the time step (5e-7 of it at 128 nodes).
  double coil_loss = 0.0;       // W, in the resistance of the coil
  double capacitor_loss = 0.0;  // W
  double led_power = 0.0;       // W, into the LED or both, in reverse too

  double tank_peak() const { return forward_peak > reverse_peak ? forward_peak : reverse_peak; }  // V
};

struct SteadyState {
  OperatingPoint value;
  OperatingPoint slope;  // d/d(emf_peak)
};

// Periodic steady state of the non-linear circuit of TankDesign under e(t) = E cos(omega t).
//
// With theta = omega t, v the node voltage and i_L the coil current,
//   dv/dtheta = (i_L - G v - i(v))/(omega C),   di_L/dtheta = (e - v - R i_L)/(omega L),   2 pi-periodic.
// The solution is unique and the only attractor: for two solutions the stored energy of their difference,
// L (di)^2/2 + C (dv)^2/2, falls by R (di)^2 + G (dv)^2 + dv (i(v1) - i(v2)) >= 0, as i(v) increases. So
// there are no jumps and no second branch (a junction capacitance that depended on voltage could give some:
// neglected).
//
// Method: the linear response is taken off exactly. The rest is driven by i(v(theta)), which on each of
// `nodes` equal steps is the cubic through its values and slopes at both ends and is integrated exactly
// against the matrix exponential of the linear circuit (an exponential form of the two-derivative method of
// Obreshkov 1940 [obreshkov1940]): error O(step^4), linear tank exact. All nodes are unknowns at once, solved
// by Newton with a 2 x 2 block elimination around the period: O(nodes), against O(nodes^3) for harmonic
// balance with as many samples, and without its ringing where a strongly driven LED switches on within a few
// degrees. `nodes` carries nodes/2 harmonics.
//
// The solver keeps its last solution and its derivative by E as the start for the next.
class SteadyStateSolver {
 public:
  // Angular frequency omega > 0 [rad/s], nodes >= 96. Throws InputError for an invalid design.
  SteadyStateSolver(const TankDesign& design, double omega, int nodes);

  // Steady state at a peak EMF >= 0 [V]. Throws LogicError when Newton's iteration fails (not seen to
  // happen).
  SteadyState solve(double emf_peak);

  int nodes() const { return nodes_; }

 private:
  struct Node {
    Eigen::Vector2d rest, rest_slope;  // (v, i_L) less the linear response; its derivative by E
    LedLaw::Response led;
    double voltage, voltage_slope;        // v, dv/dtheta
    double by_voltage, by_current;        // derivatives of di/dtheta by v and i_L
    double led_by_emf, led_slope_by_emf;  // derivatives of i and di/dtheta by E at fixed rest
    Eigen::Matrix2d link;                 // rest[n+1] = link rest[n] + ..., linearised
    Eigen::Vector2d source, source_by_emf;
  };

  bool newton(double emf_peak);
  void evaluate(double emf_peak);
  double sweep();
  double overshoot(double from, double to) const;
  SteadyState summary(double emf_peak) const;

  TankDesign design_;
  int nodes_;
  double inverse_capacitance_;  // 1/(omega C) [ohm]
  double loss_conductance_;
  LinearResponse linear_;
  double knee_, knee_antiparallel_;  // V, below it (of the node, of its negative) a Newton step is never cut
  double narrowest_;                 // V, the smaller slope voltage of the LEDs
  Eigen::Matrix2d propagator_;
  Eigen::Vector2d weight_value_[2], weight_slope_[2];
  std::vector<double> cosine_, sine_;
  std::vector<double> linear_voltage_, linear_voltage_slope_;  // per volt of EMF
  std::vector<Node> node_;
  double emf_peak_ = 0.0;
};

}  // namespace driftglow::receiver
