#pragma once

#include <functional>
#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

#include "models/error.hpp"
#include "sim/flight/vessels.hpp"

namespace driftglow::flight {

// A flight cut into `of` pieces for several machines; number in 1..of.
struct Part {
  int number, of;
  friend bool operator==(const Part&, const Part&) = default;
};

// Replicates first, ..., end - 1.
struct Range {
  int first, end;
};

// The pieces follow each other and differ in size by one at most; without a part all replicates.
Range range_of(const std::optional<Part>& part, int replicates);

struct CampaignSettings {
  int replicates;                         // wanted of all parts, or the most for a target interval
  std::optional<double> target_interval;  // 1, largest half width of the 95 % interval of a duty
  int threads;
  InstructionSet instructions;
  std::optional<Part> part = {};  // not with a target interval, which looks at all replicates
  double lost_limit = 1.0;        // 1, of all tags of `replicates`: so many may get lost
};

// More tags were lost than the limit allows. Tells the first of them.
class TooManyLost : public LogicError {
 public:
  using LogicError::LogicError;
};
struct LostCount {
  std::int64_t lost = 0, tags = 0;  // tags: of all replicates
  int replicate = 0;                // of `first`
  LostTag first{};

  double share() const { return tags > 0 ? static_cast<double>(lost) / static_cast<double>(tags) : 0.0; }
};
// Throws TooManyLost.
void check_lost(const LostCount& count, double step, double limit);

struct Progress {
  int replicates_done, replicates_planned;
  std::int64_t tag_steps_done, tag_steps_planned;  // planned: the most, where a target interval may stop it
};

// Replicates with their numbers, in any order.
struct Replicates {
  std::vector<int> numbers;
  std::vector<ReplicateResult> results;
};

// Replicates in index order; after an interrupt those that were finished, with their numbers.
struct CampaignResult {
  std::vector<int> numbers;
  std::vector<ReplicateResult> replicates;
  bool interrupted;
  Timing timing;  // summed over threads; not part of the result's data
  std::int64_t tag_steps;
  std::optional<Part> part = {};
  std::string arithmetic = {};  // of the instruction set
};

// Finished replicates first, first + 1, ...; called from the flying threads, maybe several at once.
using Finished = std::function<void(int first, std::span<const ReplicateResult>)>;

// With a target interval, flies in batches that grow by a fixed rule and looks after each, so that the stop
// does not depend on the threads. `report` is called from the flying threads, one at a time. `kept` are
// replicates of this plan flown before, within the range and of the same arithmetic: they are taken over
// instead of being flown, and the result is the same.
CampaignResult fly_campaign(const Plan& plan, const CampaignSettings& settings, const std::stop_token& stop,
                            const std::function<void(const Progress&)>& report, Replicates kept = {},
                            const Finished& finished = {});

}  // namespace driftglow::flight
