#include "sim/flight/campaign.hpp"

#include <algorithm>
#include <mutex>

#include "sim/parallel/pool.hpp"
#include "sim/statistics/estimate.hpp"

namespace driftglow::flight {
namespace {

// Replicates between two looks at the intervals.
constexpr int batch_size = 8;

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
  int done = 0;
  const std::int64_t steps_each = (plan.clock.warmup + plan.clock.duration) * plan.tags;
  while (static_cast<int>(result.replicates.size()) < settings.replicates && !result.interrupted) {
    const int first = static_cast<int>(result.replicates.size());
    const int left = settings.replicates - first;
    const int count = settings.target_interval ? std::min(batch_size, left) : left;
    std::vector<std::optional<ReplicateResult>> slots(count);
    const auto outcome = parallel::run_blocks(
        count, settings.threads,
        [&](std::size_t i) {
          Timing timing{};
          slots[i] = fly_replicate(plan, first + static_cast<int>(i), timing);
          const std::lock_guard lock(reporting);
          result.timing.build += timing.build;
          result.timing.flight += timing.flight;
          result.tag_steps += steps_each;
          report({++done, settings.replicates, result.tag_steps});
        },
        stop);
    result.interrupted = outcome == parallel::Outcome::stopped;
    for (int i = 0; i < count; ++i) {
      if (!slots[i]) continue;
      result.numbers.push_back(first + i);
      result.replicates.push_back(std::move(*slots[i]));
    }
    if (settings.target_interval && widest_interval(plan, result.replicates) <= *settings.target_interval)
      break;
  }
  return result;
}

}  // namespace driftglow::flight
