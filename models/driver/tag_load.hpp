#pragma once

#include <complex>
#include <functional>
#include <vector>

#include "models/driver/operating_point.hpp"
#include "models/receiver/glow_curve.hpp"

namespace driftglow::driver {

// Complex power P + jQ [VA] that a tag draws from its EMF, at omega [rad/s] and a peak EMF [V].
using TagResponse = std::function<std::complex<double>(double omega, double emf_peak)>;

// With the LED, from its glow curve: a describing function, exact for the fundamental. The curve belongs to
// one omega and is taken as it is when the driver moves from there: good while the move is small against the
// tag's bandwidth f/Q.
TagResponse lit_response(receiver::GlowCurve curve);
// Without: the linear tank at any omega, exact. Also the tag far below its threshold, and one whose LED is
// broken.
TagResponse unlit_response(const receiver::TankDesign& tank);

// Tags of one kind.
struct TagGroup {
  double count;                           // 1, >= 0
  std::vector<double> mutual_inductance;  // H, with the whole drive circuit, at equally likely places and
                                          // directions, sign of no matter; one value: the root mean square
  TagResponse response;
};

// Impedance that tags reflect into the drive circuit, in series with it [ohm]:
//   Z = sum over tags of (omega M)^2/Z_tag = sum of 2 (P - jQ)(E)/I^2,  E = omega |M| I,  I the peak coil
//   current,
// averaged over each group's values of M. The average over many tags stands for their momentary sum, which
// fluctuates about it by 1/sqrt(count) and more. Real part >= 0 (each tag takes power); an inductive tag
// lowers the coils' inductance. Neglected: tags coupled to each other, harmonics. LogicError for a group
// without values or a negative count.
ReflectedImpedance reflected_by(std::vector<TagGroup> groups);

// Whether coils (L [H] at the point), capacitance [F] and tags together have more than one frequency of zero
// reactance within a factor 1.4 of the point's: beyond critical coupling, about count x k^2 Q^2 > 1 with the
// tags' Q. A self-oscillating or following driver may then settle at either of the outer ones, whichever it
// meets first when switched on, and operating_point() at one of them or at none. `tags`: unlit ones, which
// follow the frequency.
bool splits_resonance(const OperatingPoint& point, double capacitance, const ReflectedImpedance& tags);

// The drive as the tags see and load it.
struct TagFeedback {
  OperatingPoint empty;  // no tags
  OperatingPoint unlit;  // all tags as linear tanks: the most that they can take
  OperatingPoint lit;    // with their LEDs
};

// Each to its own fixed point of coil current, frequency and temperature. `lit` and `unlit` are the same tags
// with either response; errors as operating_point().
template <class Driver>
TagFeedback tag_feedback(const Driver& driver, const CoilLoad& coils, const Surroundings& surroundings,
                         const std::vector<TagGroup>& unlit, const std::vector<TagGroup>& lit) {
  return {operating_point(driver, coils, surroundings),
          operating_point(driver, coils, surroundings, {reflected_by(unlit)}),
          operating_point(driver, coils, surroundings, {reflected_by(lit)})};
}

}  // namespace driftglow::driver
