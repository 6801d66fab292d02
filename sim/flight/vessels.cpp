#include "sim/flight/vessels.hpp"

#include <time.h>

#include <cmath>
#include <limits>

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

std::optional<ReplicateResult> fly_tag(const Plan& plan, InstructionSet set, int replicate, int tag,
                                       const std::function<void(const TagMoment&)>& each,
                                       const std::stop_token& stop) {
  struct Stopped {};
  return with_kernel(set, [&]<class Real>(const Kernel<Real>& kernel) -> std::optional<ReplicateResult> {
    VesselBlock<Real> block(plan, kernel, replicate, 1);
    const auto vector = [&](int number) {
      return numeric::Vec3<double>{block.state(tag, number, 0), block.state(tag, number + 1, 0),
                                   block.state(tag, number + 2, 0)};
    };
    bool lost = false;
    try {
      block.fly([](std::int64_t) {},
                [&](std::int64_t step) {
                  if (stop.stop_requested()) throw Stopped{};
                  if (lost) return;
                  TagMoment moment{static_cast<double>(step + 1) * plan.clock.step,
                                   vector(place_x),
                                   vector(velocity_x),
                                   vector(axis_x),
                                   vector(spin_x),
                                   std::numeric_limits<double>::quiet_NaN(),
                                   0,
                                   block.loss(tag, 0)};
                  if (step >= 0) {
                    moment.linkage = std::sqrt(block.linkage_squared(tag, 0));
                    moment.lit = block.lit(tag, 0);
                  }
                  lost = moment.loss.has_value();
                  each(moment);
                });
    } catch (const Stopped&) {
      return std::nullopt;
    }
    return std::move(block.results().front());
  });
}

}  // namespace driftglow::flight
