#include "sim/flight/campaign.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <mutex>
#include <optional>

#include "models/error.hpp"
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

// The replicates still to be flown, in runs of neighbours no longer than the lanes.
std::vector<Range> missing_runs(const std::vector<std::optional<ReplicateResult>>& slots, int first,
                                int lanes) {
  std::vector<Range> runs;
  for (int i = 0; i < static_cast<int>(slots.size()); ++i) {
    if (slots[i]) continue;
    const int number = first + i;
    if (runs.empty() || runs.back().end != number || number - runs.back().first == lanes)
      runs.push_back({number, number});
    runs.back().end = number + 1;
  }
  return runs;
}

}  // namespace

void check_lost(const LostCount& count, double step, double limit) {
  if (count.share() <= limit) return;
  throw TooManyLost(fmt::format(
      "{} of {} tags were lost ({:.2g} %), more than `flight.lost_limit` allows ({:.2g} %), so there are no "
      "results: tag {} of replicate {} {} after {:.3f} s; follow it with --only {}:{} --trace, or try a "
      "shorter "
      "`flight.step`",
      count.lost, count.tags, 100.0 * count.share(), 100.0 * limit, count.first.tag, count.replicate,
      words(count.first.loss), static_cast<double>(count.first.steps) * step, count.replicate,
      count.first.tag));
}

Range range_of(const std::optional<Part>& part, int replicates) {
  if (!part) return {0, replicates};
  const auto cut = [&](std::int64_t piece) { return static_cast<int>(piece * replicates / part->of); };
  return {cut(part->number - 1), cut(part->number)};
}

CampaignResult fly_campaign(const Plan& plan, const CampaignSettings& settings, const std::stop_token& stop,
                            const std::function<void(const Progress&)>& report, Replicates kept,
                            const Finished& finished) {
  if (settings.part && settings.target_interval)
    throw LogicError("a part of a flight cannot look at the intervals of all");
  CampaignResult result{
      {}, {}, false, {0.0, 0.0}, 0, settings.part, std::string(arithmetic(settings.instructions))};
  std::mutex reporting;
  const Range all = range_of(settings.part, settings.replicates);
  const int wanted = all.end - all.first;
  const std::int64_t steps_each = (plan.clock.warmup + plan.clock.duration) * plan.tags;
  const int known = static_cast<int>(kept.numbers.size());
  Progress progress{known, wanted, 0, steps_each * (wanted - known)};
  const int lanes = lanes_of(settings.instructions);
  LostCount lost{0, static_cast<std::int64_t>(settings.replicates) * plan.tags};
  const auto note_lost = [&](int first, std::span<const ReplicateResult> flown) {
    const std::lock_guard lock(reporting);
    for (const auto& replicate : flown) {
      if (lost.lost == 0 && !replicate.lost.empty()) {
        lost.replicate = first;
        lost.first = replicate.lost.front();
      }
      lost.lost += static_cast<std::int64_t>(replicate.lost.size());
      ++first;
    }
    // What remains to be flown cannot make it better.
    check_lost(lost, plan.clock.step, settings.lost_limit);
  };
  for (std::size_t i = 0; i < kept.numbers.size(); ++i)
    note_lost(kept.numbers[i], std::span(kept.results).subspan(i, 1));
  while (static_cast<int>(result.replicates.size()) < wanted && !result.interrupted) {
    const int flown = static_cast<int>(result.replicates.size());
    const int first = all.first + flown, left = wanted - flown;
    const int count = settings.target_interval ? std::min(next_batch(flown), left) : left;
    std::vector<std::optional<ReplicateResult>> slots(count);
    for (std::size_t i = 0; i < kept.numbers.size(); ++i) {
      const int slot = kept.numbers[i] - first;
      if (slot >= 0 && slot < count) slots[slot] = std::move(kept.results[i]);
    }
    const auto runs = missing_runs(slots, first, lanes);
    const auto outcome = parallel::run_blocks(
        runs.size(), settings.threads,
        [&](std::size_t i) {
          const Range run = runs[i];
          const int size = run.end - run.first;
          Timing timing{};
          auto flown_now =
              fly_vessels(plan, settings.instructions, run.first, size, timing, [&](std::int64_t tag_steps) {
                const std::lock_guard lock(reporting);
                progress.tag_steps_done += tag_steps;
                report(progress);
              });
          if (finished) finished(run.first, flown_now);
          note_lost(run.first, flown_now);
          for (int k = 0; k < size; ++k) slots[run.first - first + k] = std::move(flown_now[k]);
          const std::lock_guard lock(reporting);
          result.timing.build += timing.build;
          result.timing.flight += timing.flight;
          result.tag_steps += steps_each * size;
          progress.replicates_done += size;
          report(progress);
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
