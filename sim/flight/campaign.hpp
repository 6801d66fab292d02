#pragma once

#include <functional>
#include <optional>
#include <stop_token>
#include <vector>

#include "sim/flight/vessels.hpp"

namespace driftglow::flight {

struct CampaignSettings {
  int replicates;                         // wanted, or the most for a target interval
  std::optional<double> target_interval;  // 1, largest half width of the 95 % interval of a duty
  int threads;
  InstructionSet instructions;
};

struct Progress {
  int replicates_done, replicates_planned;
  std::int64_t tag_steps_done, tag_steps_planned;  // planned: the most, where a target interval may stop it
};

// Replicates in index order; after an interrupt those that were finished, with their numbers.
struct CampaignResult {
  std::vector<int> numbers;
  std::vector<ReplicateResult> replicates;
  bool interrupted;
  Timing timing;  // summed over threads; not part of the result's data
  std::int64_t tag_steps;
};

// With a target interval, flies in batches that grow by a fixed rule and looks after each, so that the stop
// does not depend on the threads. `report` is called from the flying threads, one at a time.
CampaignResult fly_campaign(const Plan& plan, const CampaignSettings& settings, const std::stop_token& stop,
                            const std::function<void(const Progress&)>& report);

}  // namespace driftglow::flight
