#include "sim/flight/vessels.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <atomic>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/flight/campaign.hpp"
#include "sim/flight/kernel.hpp"
#include "tests/flight/plans.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {

// Everything that a result holds, bit by bit.
class Bytes {
 public:
  explicit Bytes(const ReplicateResult& result) {
    for (const DesignResult& design : result.designs) {
      add(design.pinned);
      add_numbers(design.touching, design.mean_speed, design.mean_height);
      add(design.visits);
      for (const FitResult& fit : design.fits) {
        add(fit.tag_duty);
        add_numbers(fit.duty, fit.flashes_per_minute, fit.mean_on_spell, fit.mean_off_spell, fit.mean_current,
                    fit.mean_intensity, fit.effective_intensity, fit.over_rating);
        add(fit.on_spells);
        add(fit.off_spells);
        add(fit.lit_by_place);
        add(fit.emitter_intensity);
        add_numbers(fit.coupling_shift);
      }
    }
    add(result.vessel.lit_at_once);
    add_numbers(result.vessel.longest_dark, result.vessel.uncoupled_share);
    add(result.vessel.colour_intensity);
    add(result.trace.time);
    add(result.trace.place);
    add(result.trace.velocity);
    add(result.trace.axis);
    add(result.trace.linkage);
    add(result.trace.lit);
    add(result.trace.current);
  }
  friend bool operator==(const Bytes&, const Bytes&) = default;

 private:
  void add(const auto& values) {
    const auto* from = reinterpret_cast<const char*>(values.data());
    bytes_.append(from, from + values.size() * sizeof(values[0]));
  }
  void add_numbers(auto... numbers) { add(std::vector<double>{numbers...}); }
  std::string bytes_;
};

std::vector<Bytes> flown(const Plan& plan, InstructionSet set, int first, int count) {
  Timing timing{};
  std::int64_t tag_steps = 0;
  const auto results =
      fly_vessels(plan, set, first, count, timing, [&](std::int64_t steps) { tag_steps += steps; });
  CHECK(static_cast<int>(results.size()) == count);
  CHECK(tag_steps == (plan.clock.warmup + plan.clock.duration) * plan.tags * count);
  std::vector<Bytes> bytes;
  for (const auto& result : results) bytes.emplace_back(result);
  return bytes;
}

}  // namespace

TEST_CASE("a replicate is the same bits in any lane, with any neighbours, and in the fused packs") {
  auto scenario = one_of_each();
  int steps = 300;
  SUBCASE("one of each") {}
  SUBCASE("coupled tags") {
    scenario = demo();
    scenario.flight.coupling = scenario::Coupling::on;
    steps = 60;
  }
  SUBCASE("antiparallel pairs") {
    scenario = with_pairs(demo());
    steps = 60;
  }
  Plan plan = short_flight(scenario, steps);
  REQUIRE(plan.coupling.has_value() == (scenario.flight.coupling == scenario::Coupling::on));
  plan.clock.warmup = 40;
  plan.traced_replicates = 100;
  std::vector<Bytes> fused;
  for (const InstructionSet set : available_instruction_sets()) {
    const int lanes = lanes_of(set);
    CAPTURE(std::string(name(set)));
    std::vector<Bytes> all;
    for (int first = 0; first < 16; first += lanes) {
      for (auto& bytes : flown(plan, set, first, lanes)) all.push_back(std::move(bytes));
    }
    CHECK_FALSE(all[0] == all[1]);
    // Alone in the first lane; among others in every second lane, both in a full and in a part-filled block.
    for (const int replicate : {0, 5, 15}) CHECK(flown(plan, set, replicate, 1)[0] == all[replicate]);
    for (int lane = 0; lane < lanes; lane += 2) {
      const int first = 7 - std::min(lane, 7);
      const auto part = flown(plan, set, first, std::min(lanes, lane + 1));
      for (std::size_t i = 0; i < part.size(); ++i) CHECK(part[i] == all[first + static_cast<int>(i)]);
    }
    // multiply_add() rounds once here (lane.hpp).
    if (set != InstructionSet::avx2 && set != InstructionSet::avx512) continue;
    if (fused.empty()) fused = all;
    CHECK(fused == all);
  }
}

// Recorded are means over whole intervals, here without a remainder: together they are the flight's own mean,
// but for the rounding of single precision.
TEST_CASE("recorded currents are what each LED carried since the sample before") {
  Plan plan = short_flight(demo(), 701);
  plan.traced_replicates = 2;
  Timing timing{};
  const auto results =
      fly_vessels(plan, available_instruction_sets().back(), 0, 2, timing, [](std::int64_t) {});
  for (const auto& result : results) {
    const std::size_t samples = result.trace.time.size(), slots = result.trace.current.size() / samples;
    REQUIRE(samples == 101);
    REQUIRE(slots == 24);
    for (std::size_t fit = 0; fit < 2; ++fit) {
      double sum = 0.0;
      for (std::size_t i = 0; i < samples; ++i)
        for (std::size_t slot = fit; slot < slots; slot += 2)
          sum += (i == 0 ? 1.0 : 7.0) * result.trace.current[i * slots + slot];
      CHECK(sum / 701.0 / 12.0 == relative(result.designs[0].fits[fit].mean_current, 1e-5));
    }
  }
}

// tools/sanitize flies this under the thread sanitizer, which instruments the scalar kernel alone.
TEST_CASE("a campaign is the same bits on any number of threads") {
  Plan plan = short_flight(with_pairs(demo()), 60);
  plan.traced_replicates = 3;
  constexpr int replicates = 9;
  const auto campaign = [&](int threads) {
    int reports = 0, last_done = 0;  // one report at a time, so nothing guards these
    std::atomic<int> finished = 0;
    const auto result = fly_campaign(
        plan, {replicates, std::nullopt, threads, InstructionSet::scalar}, {},
        [&](const Progress& progress) { ++reports, last_done = progress.replicates_done; }, {},
        [&](int, std::span<const ReplicateResult> some) { finished += static_cast<int>(some.size()); });
    CHECK_FALSE(result.interrupted);
    CHECK(reports > 0);
    CHECK(last_done == replicates);
    CHECK(finished == replicates);
    std::vector<Bytes> bytes;
    for (const auto& replicate : result.replicates) bytes.emplace_back(replicate);
    CHECK(bytes.size() == replicates);
    return bytes;
  };
  const auto alone = campaign(1);
  for (const int threads : {2, 7}) CHECK(campaign(threads) == alone);
}
