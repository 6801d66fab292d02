#include "sim/flight/campaign.hpp"

#include <algorithm>
#include <mutex>

#include "sim/parallel/pool.hpp"
#include "sim/statistics/estimate.hpp"

namespace driftglow::flight {
namespace {

// Replicates to the next look at the intervals: few at first, then half as many again as were flown, so that
// many threads find work. The same for every instruction set and thread count, so that the stop is too.
int next_batch(int flown) {
  constexpr int smallest = 32;
  return std::max(smallest, flown / 2 / smallest * smallest);
}

double widest_interval(const Plan& plan, const std::vector<ReplicateResult>& replicates) {
  double widest = 0.0;
  for (std::size_t d = 0; d < plan.designs.size(); ++d) {
    for (std::size_t f = 0; f < plan.designs[d].fits.size(); ++f) {
      std::vector<double> duty;
      for (const auto& r : replicates) duty.push_back(r.designs[d].fits[f].duty);
      widest = std::max(widest, statistics::estimate(duty).half_width);
    }
  }
  return widest;
}

}  // namespace

CampaignResult fly_campaign(const Plan& plan, const CampaignSettings& settings, const std::stop_token& stop,
                            const std::function<void(const Progress&)>& report) {
  CampaignResult result{{}, {}, false, {0.0, 0.0}, 0};
  std::mutex reporting;
  const std::int64_t steps_each = (plan.clock.warmup + plan.clock.duration) * plan.tags;
  Progress progress{0, settings.replicates, 0, steps_each * settings.replicates};
  const int lanes = lanes_of(settings.instructions);
  while (static_cast<int>(result.replicates.size()) < settings.replicates && !result.interrupted) {
    const int first = static_cast<int>(result.replicates.size());
    const int left = settings.replicates - first;
    const int count = settings.target_interval ? std::min(next_batch(first), left) : left;
    const int blocks = (count + lanes - 1) / lanes;
    std::vector<std::vector<ReplicateResult>> slots(blocks);
    const auto outcome = parallel::run_blocks(
        blocks, settings.threads,
        [&](std::size_t i) {
          const int begin = static_cast<int>(i) * lanes, size = std::min(lanes, count - begin);
          Timing timing{};
          slots[i] = fly_vessels(plan, settings.instructions, first + begin, size, timing,
                                 [&](std::int64_t tag_steps) {
                                   const std::lock_guard lock(reporting);
                                   progress.tag_steps_done += tag_steps;
                                   report(progress);
                                 });
          const std::lock_guard lock(reporting);
          result.timing.build += timing.build;
          result.timing.flight += timing.flight;
          result.tag_steps += steps_each * size;
          progress.replicates_done += size;
          report(progress);
        },
        stop);
    result.interrupted = outcome == parallel::Outcome::stopped;
    for (int i = 0; i < blocks; ++i) {
      for (std::size_t k = 0; k < slots[i].size(); ++k) {
        result.numbers.push_back(first + i * lanes + static_cast<int>(k));
        result.replicates.push_back(std::move(slots[i][k]));
      }
    }
    if (settings.target_interval && widest_interval(plan, result.replicates) <= *settings.target_interval)
      break;
  }
  return result;
}

}  // namespace driftglow::flight
