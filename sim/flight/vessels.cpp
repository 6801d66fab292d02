#include "sim/flight/vessels.hpp"

#include <time.h>

#include "sim/flight/vessel_block.hpp"

namespace driftglow::flight {
namespace {

double thread_cpu_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

}  // namespace

int lanes_of(InstructionSet set) {
  return with_kernel(set, [](const auto& kernel) { return kernel.lanes; });
}

std::vector<ReplicateResult> fly_vessels(const Plan& plan, InstructionSet set, int first, int count,
                                         Timing& timing, const std::function<void(std::int64_t)>& flown) {
  return with_kernel(set, [&]<class Real>(const Kernel<Real>& kernel) {
    const double begin = thread_cpu_seconds();
    VesselBlock<Real> block(plan, kernel, first, count);
    const double built = thread_cpu_seconds();
    block.fly(flown);
    timing = {built - begin, thread_cpu_seconds() - built};
    return block.results();
  });
}

}  // namespace driftglow::flight
