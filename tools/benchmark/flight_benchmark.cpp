#include <benchmark/benchmark.h>

#include <algorithm>
#include <chrono>
#include <iostream>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "models/error.hpp"
#include "sim/flight/campaign.hpp"
#include "sim/flight/vessel_block.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/parallel/pool.hpp"
#include "sim/scenario/reader.hpp"

// What a tag-step costs: one tag, one time step, with air, forces, contact, pairs, flux, glow and tallies, on
// the first tag design of a scenario. Column `tag-step`:
//   fly/SET/... and stage/SET/...   CPU time of one core over tag-steps flown, all lanes filled; a stage is
//   timed
//                                   inside the whole step, with some 20 ns a step for the clock
//   threads/N                       elapsed time over tag-steps flown: with N cores to itself, that of
//   threads/1
//                                   over N
using namespace driftglow;

namespace {

using flight::InstructionSet;

constexpr const char* usage =
    "usage: flight_benchmark SCENARIO [--benchmark_...]\n"
    "The scenario's first tag design is flown with 12 and 48 tags and 1, 2 and 4 fits, e.g.\n"
    "  flight_benchmark configs/plankton_column.yaml --benchmark_filter=avx2\n";

// A flight without warm-up of other numbers of tags and fits; fits beyond the design's own repeat its
// emitters under new names, all tags carry the first.
scenario::Scenario varied(scenario::Scenario scenario, int tags, int fits, double seconds) {
  scenario.tags.resize(1);
  scenario::TagDesign& design = scenario.tags.front();
  const std::vector<std::string> given = design.fits;
  design.fits.clear();
  for (int f = 0; f < fits; ++f) {
    const std::string& name = given[static_cast<std::size_t>(f) % given.size()];
    const auto found = std::find_if(scenario.emitters.begin(), scenario.emitters.end(),
                                    [&](const auto& e) { return e.name == name; });
    if (found == scenario.emitters.end())
      throw InputError(
          "the first tag design has a plain threshold; expected one with a circuit and emitters");
    auto emitter = *found;
    emitter.name += " " + std::to_string(f);
    design.fits.push_back(emitter.name);
    scenario.emitters.push_back(emitter);
  }
  design.count = tags;
  design.mix = {{design.fits.front(), tags}};
  scenario.flight.warmup = 0.0;
  scenario.flight.duration = seconds;
  scenario.flight.trace.replicates = 0;
  return scenario;
}

// Plans are made when first flown: a filtered run pays for what it flies. Numbers of tags and fits change
// neither map.
class Plans {
 public:
  explicit Plans(scenario::Scenario scenario) : scenario_(std::move(scenario)) {}

  const flight::Plan& get(int tags, int fits, double seconds) {
    auto& plan = plans_[{tags, fits, seconds}];
    if (plan) return *plan;
    const auto wanted = varied(scenario_, tags, fits, seconds);
    if (!air_) air_ = maps::make_air(wanted);
    if (!drive_) drive_ = maps::make_drive(wanted, {});
    plan = flight::make_plan(wanted, *air_, *drive_);
    flight::solve_all(plan->families, parallel::available_threads());
    return *plan;
  }

 private:
  scenario::Scenario scenario_;
  std::optional<maps::AirState> air_;
  std::optional<maps::DriveState> drive_;
  std::map<std::tuple<int, int, double>, std::optional<flight::Plan>> plans_;
};

void set_rate(benchmark::State& state, double tag_steps) {
  state.counters["tag-step"] = benchmark::Counter(
      tag_steps, benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

void fly_block(benchmark::State& state, const flight::Plan& plan, InstructionSet set) {
  flight::with_kernel(set, [&]<class Real>(const flight::Kernel<Real>& kernel) {
    for (auto _ : state) {
      state.PauseTiming();
      auto block = std::make_unique<flight::VesselBlock<Real>>(plan, kernel, 0, kernel.lanes);
      state.ResumeTiming();
      block->fly([](std::int64_t) {});
      state.PauseTiming();
      block.reset();
      state.ResumeTiming();
    }
    set_rate(state, static_cast<double>(plan.clock.duration) * plan.tags * kernel.lanes);
  });
}

void time_stage(benchmark::State& state, const flight::Plan& plan, InstructionSet set, flight::Stage timed) {
  using Clock = std::chrono::steady_clock;
  flight::with_kernel(set, [&]<class Real>(const flight::Kernel<Real>& kernel) {
    flight::VesselBlock<Real> block(plan, kernel, 0, kernel.lanes);
    constexpr int steps = 1000;
    std::int64_t step = 0;
    std::vector<Clock::duration> times(steps);
    for (auto _ : state) {
      for (Clock::duration& time : times) {
        for (int s = 0; s < flight::stages; ++s) {
          const auto begin = s == timed ? Clock::now() : Clock::time_point{};
          block.run(static_cast<flight::Stage>(s), step);
          if (s == timed) time = Clock::now() - begin;
        }
        ++step;
      }
      std::nth_element(times.begin(), times.begin() + steps / 2, times.end());
      state.SetIterationTime(steps * std::chrono::duration<double>(times[steps / 2]).count());
    }
    set_rate(state, 1.0 * steps * plan.tags * kernel.lanes);
  });
}

void fly_on_threads(benchmark::State& state, const flight::Plan& plan, int replicates, int threads) {
  const flight::CampaignSettings settings{replicates, std::nullopt, threads,
                                          flight::available_instruction_sets().back()};
  for (auto _ : state) {
    flight::fly_campaign(plan, settings, {}, [](const flight::Progress&) {});
  }
  set_rate(state, static_cast<double>(plan.clock.duration) * plan.tags * replicates);
}

benchmark::internal::Benchmark* add(const std::string& name, const auto& run) {
  return benchmark::RegisterBenchmark(name.c_str(), run)->Unit(benchmark::kMillisecond);
}

void add_all(Plans& plans) {
  constexpr double seconds = 2.0;
  for (const auto& [tags, fits] : {std::pair{12, 2}, std::pair{48, 2}, std::pair{12, 1}, std::pair{12, 4}}) {
    for (const auto set : flight::available_instruction_sets()) {
      add("fly/" + std::string(flight::name(set)) + "/" + std::to_string(tags) + " tags/" +
              std::to_string(fits) + (fits == 1 ? " fit" : " fits"),
          [&plans, set, n = tags, f = fits](auto& state) {
            fly_block(state, plans.get(n, f, seconds), set);
          });
    }
  }
  // A number of iterations, since short stages would need thousands to fill the wanted time.
  for (const auto set : flight::available_instruction_sets()) {
    for (int s = 0; s < flight::stages; ++s) {
      add("stage/" + std::string(flight::name(set)) + "/" + flight::stage_names[s],
          [&plans, set, s](auto& state) {
            time_stage(state, plans.get(12, 2, seconds), set, static_cast<flight::Stage>(s));
          })
          ->UseManualTime()
          ->Iterations(16);
    }
  }
  // Two blocks a thread at the most threads, so that one that is held up does not decide.
  const int most = parallel::available_threads();
  const int replicates = 2 * most * flight::lanes_of(flight::available_instruction_sets().back());
  for (int threads = 1; threads <= most; threads = threads < most ? std::min(2 * threads, most) : most + 1) {
    add("threads/" + std::to_string(threads), [&plans, replicates, threads](auto& state) {
      fly_on_threads(state, plans.get(12, 2, 10.0 * seconds), replicates, threads);
    })->UseRealTime();
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2 || argv[1][0] == '-') {
    std::cerr << usage;
    return 2;
  }
  try {
    Plans plans(scenario::read_scenario(argv[1]));
    // It takes away what it knows: the program's name and the scenario must be left.
    benchmark::Initialize(&argc, argv);
    if (argc > 2) {
      std::cerr << "flight_benchmark: unknown argument `" << argv[2] << "`\n" << usage;
      return 2;
    }
    add_all(plans);
    benchmark::RunSpecifiedBenchmarks();
    return 0;
  } catch (const InputError& error) {
    std::cerr << "flight_benchmark: " << error.what() << "\n";
    return 2;
  } catch (const std::exception& error) {
    std::cerr << "flight_benchmark: " << error.what() << "\n";
    return 1;
  }
}
