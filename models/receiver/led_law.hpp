#pragma once

namespace driftglow::receiver {

// Reverse branch of an LED as data sheets give it.
struct ReverseData {
  double breakdown;  // V > 0, where the steep rise of the reverse current begins
  double leakage;    // A >= 0, at half the breakdown voltage
};

struct LedParameters {
  double ideality;            // 1, n_id > 0
  double saturation_current;  // A > 0, I_s
  double series_resistance;   // ohm >= 0, R_s
  double temperature;         // K > 0, of the junction
  ReverseData reverse;
};

// Current-voltage law of an LED, terminal voltage v counted forward [V], current i [A]:
//   v >= 0:  v = n_id V_T ln(1 + i/I_s) + i R_s,  V_T = kT/q  (Shockley 1949 [shockley1949] with series
//   resistance) v <  0:  the same branch plus
//            -I_leak (2 v / V_bd)^2                                  leakage, I_leak at half the breakdown
//            voltage -G_bd {d^2/(2 w) for 0 < d < w;  d - w/2 for d >= w}    breakdown, d = -v - V_bd, w =
//            V_bd/50,
//                                                                    G_bd such that 10 mA flow at d = V_bd/20
// Increasing and C1 everywhere (the second derivative jumps at v = 0 and at the ends of the breakdown's
// bend). Neglected: recombination at microamperes (a smaller slope there; n_id fitted to points absorbs it),
// self-heating, light falling on the chip. Coarse: the square-law leakage and the breakdown's slope are ours,
// no source; both matter only for a tag driven into breakdown, which is over its rating.
class LedLaw {
 public:
  // Throws InputError when a parameter is out of the range given above.
  explicit LedLaw(const LedParameters& parameters);

  const LedParameters& parameters() const { return parameters_; }

  // n_id V_T [V]: the voltage for a factor e of current.
  double slope_voltage() const { return slope_voltage_; }

  // Forward voltage [V] at a current >= 0 [A].
  double forward_voltage(double current) const;

  struct Response {
    double current;      // A
    double conductance;  // A/V, di/dv
    double curvature;    // A/V2, d2i/dv2
  };

  // At any terminal voltage [V]. The forward branch is solved with the Wright omega function by two steps of
  // Fritsch, Shafer & Crowley 1973 [fritsch1973]: the voltage is met to a few units in its last place.
  Response respond(double voltage) const;

  // A built LED whose forward voltage at a given current is higher by `shift` [V]: I_s scaled by
  // exp(-shift/(n_id V_T)); exact for currents far above I_s, series resistance unchanged.
  LedLaw shifted(double shift) const;

 private:
  LedParameters parameters_;
  double slope_voltage_, inverse_slope_voltage_;
  double resistance_ratio_;  // R_s I_s/(n_id V_T)
  double omega_offset_;      // ratio + ln ratio; unused without series resistance
  double breakdown_bend_, breakdown_conductance_;
};

}  // namespace driftglow::receiver
