#include <cmath>
#include <cstdlib>
#include <limits>
#include <sstream>
#include <string>
#include <vector>

#include "models/error.hpp"
#include "sim/flight/kernel.hpp"
#include "sim/flight/random.hpp"

// Makes `driftglow_faulty` of the program's own object files: the linker (--wrap) puts kernels in place of
// the flight's that do the same and then spoil what the environment variable DRIFTGLOW_FAULTS names,
//   KIND REPLICATE TAG STEP ...
// a tag of a replicate at the end of `advance` of a step (counted from the end of warm-up, negative in it):
//   velocity, spin   no number from then on        far     a kilometre away, for ever
//   fast             1e6 m/s once                  throw   the replicate fails
namespace driftglow::flight {
namespace {

struct Fault {
  std::string kind;
  int replicate, tag;
  std::int64_t step;
};

const std::vector<Fault>& faults() {
  static const std::vector<Fault> all = [] {
    std::vector<Fault> found;
    const char* given = std::getenv("DRIFTGLOW_FAULTS");
    std::istringstream words(given ? given : "");
    for (Fault fault; words >> fault.kind >> fault.replicate >> fault.tag >> fault.step;)
      found.push_back(fault);
    return found;
  }();
  return all;
}

template <class Real>
void spoil(const Fault& fault, Real* state, int lanes, std::int64_t step) {
  constexpr Real none = std::numeric_limits<Real>::quiet_NaN();
  // A tag that the flight has given up has no place: there is nothing left to spoil.
  if (fault.kind == "far" && std::isfinite(state[place_x * lanes])) state[place_x * lanes] = 1000;
  if (step != fault.step) return;
  if (fault.kind == "velocity") state[velocity_x * lanes] = none;
  if (fault.kind == "spin") state[spin_x * lanes] = none;
  if (fault.kind == "fast") state[velocity_x * lanes] = 1e6;
  if (fault.kind == "throw") throw LogicError("a fault on purpose");
}

// A replicate is known by its random streams. `far` also after contact, which would bring the tag back.
template <class Real>
void spoil_all(const Plan& plan, const FlightArrays<Real>& a, std::int64_t step) {
  for (const Fault& fault : faults()) {
    if (step < fault.step || fault.tag >= plan.tags) continue;
    const auto stream = stream_state(plan.seed, fault.replicate, fault.tag, Purpose::air);
    for (int lane = 0; lane < a.lanes; ++lane) {
      const auto increment = a.stream_increment[fault.tag * a.lanes + numeric::stream_slot(lane, a.lanes)];
      if (increment != stream.increment) continue;
      spoil(fault, a.state + static_cast<std::ptrdiff_t>(fault.tag) * state_numbers * a.lanes + lane, a.lanes,
            step);
    }
  }
}

template <class Real, const Kernel<Real>& real, Stage stage>
void spoiled(const Plan& plan, const FlightArrays<Real>& a, std::int64_t step) {
  real.stage[stage](plan, a, step);
  spoil_all(plan, a, step);
}

template <class Real, const Kernel<Real>& real>
Kernel<Real> with_faults() {
  Kernel<Real> kernel = real;
  // Contact corrects places and speeds: what is to be too far or too fast is made so after it.
  kernel.stage[advance] = spoiled<Real, real, advance>;
  kernel.stage[touch_vessel] = spoiled<Real, real, touch_vessel>;
  return kernel;
}

}  // namespace

#define DRIFTGLOW_SPOIL(Real, name, symbol)                       \
  extern const Kernel<Real> real_##name asm("__real_" symbol);    \
  extern const Kernel<Real> spoiled_##name asm("__wrap_" symbol); \
  const Kernel<Real> spoiled_##name = with_faults<Real, real_##name>();

DRIFTGLOW_SPOIL(double, scalar, "_ZN9driftglow6flight13kernel_scalarE")
DRIFTGLOW_SPOIL(float, baseline, "_ZN9driftglow6flight15kernel_baselineE")
#ifdef DRIFTGLOW_X86
DRIFTGLOW_SPOIL(float, avx2, "_ZN9driftglow6flight11kernel_avx2E")
DRIFTGLOW_SPOIL(float, avx512, "_ZN9driftglow6flight13kernel_avx512E")
#endif

}  // namespace driftglow::flight
