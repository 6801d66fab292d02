#pragma once

#include "models/air/air_map.hpp"
#include "models/motion/advance.hpp"
#include "models/motion/contact.hpp"
#include "sim/flight/instruction_set.hpp"
#include "sim/flight/numbers.hpp"

// The motion of one tag in all lanes of a number type as functions over plain arrays, so that tests compiled
// for any machine can look at packs of wider ones. Implemented once an instruction set by motion_probe.cpp.
namespace driftglow::motion {

// What does not change in a flight.
struct Setting {
  const air::AirMap& air;
  Body body;
  BodyTerms terms;
  Enclosure vessel;
  double step;  // s
};

// state: [state_numbers][lane] in the order of flight::each_number(); kicks: [6][lane], three for the
// velocity and three for the spin.
template <class Real>
struct MotionProbe {
  int lanes;
  using Advance = void (*)(const Setting& setting, const Real* kicks, Real* state);
  Advance advance_solid;   // by the body's drag law and wall lift
  Advance advance_tracer;  // with the mirror at the vessel's wall
  void (*touch_pair)(const Setting& first, const Setting& second, Real* state_a, Real* state_b);
  void (*touch_vessel)(const Setting& setting, Real* state);
};

extern const MotionProbe<double> probe_scalar;
extern const MotionProbe<float> probe_baseline;
#ifdef DRIFTGLOW_X86
extern const MotionProbe<float> probe_avx2, probe_avx512;
#endif

inline const MotionProbe<float>& probe_of([[maybe_unused]] flight::InstructionSet set) {
#ifdef DRIFTGLOW_X86
  if (set == flight::InstructionSet::avx2) return probe_avx2;
  if (set == flight::InstructionSet::avx512) return probe_avx512;
#endif
  return probe_baseline;
}

}  // namespace driftglow::motion
