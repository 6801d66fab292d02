#include <benchmark/benchmark.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <memory>

#include "sim/flight/campaign.hpp"
#include "sim/flight/vessel_block.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/scenario/reader.hpp"

// What a tag-step costs: one tag, one time step, with air, forces, contact, pairs, flux, glow and tallies, on
// the scenario given as the first argument.
//   flight_benchmark SCENARIO [--benchmark_repetitions=5 --benchmark_report_aggregates_only=true ...]
// "tag-step" is CPU time (of all threads in fly/...) over tag-steps flown; stages are timed inside a whole
// flight, one stage a benchmark, with some 20 ns a step for the clock.
using namespace driftglow;

namespace {

using flight::InstructionSet;

// The scenario with other numbers of tags and fits; fits beyond its own repeat its emitters under new names,
// tags carry the first fit.
flight::Plan plan_of(scenario::Scenario scenario, int tags, int fits, double duration) {
  scenario::TagDesign& design = scenario.tags.front();
  scenario.tags.resize(1);
  const std::vector<std::string> given = design.fits;
  design.fits.clear();
  for (int f = 0; f < fits; ++f) {
    auto emitter = *std::find_if(scenario.emitters.begin(), scenario.emitters.end(), [&](const auto& e) {
      return e.name == given[static_cast<std::size_t>(f) % given.size()];
    });
    emitter.name += " " + std::to_string(f);
    design.fits.push_back(emitter.name);
    scenario.emitters.push_back(emitter);
  }
  design.count = tags;
  design.mix = {{design.fits.front(), tags}};
  scenario.flight.warmup = 0.0;
  scenario.flight.duration = duration;
  scenario.flight.trace.replicates = 0;
  auto drive = maps::make_drive(scenario, {});
  auto plan = flight::make_plan(scenario, maps::make_air(scenario), std::move(drive));
  flight::solve_all(plan.families, parallel::available_threads());
  return plan;
}

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

void add(const std::string& name, const auto& run) {
  benchmark::RegisterBenchmark(name.c_str(), run)->Unit(benchmark::kMillisecond);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2 || argv[1][0] == '-') {
    std::cerr << "usage: flight_benchmark SCENARIO [--benchmark_...]\n";
    return 2;
  }
  try {
    const auto scenario = scenario::read_scenario(argv[1]);
    benchmark::Initialize(&argc, argv);
    constexpr double seconds = 2.0;
    const auto own = std::make_shared<flight::Plan>(plan_of(scenario, 12, 2, seconds));
    for (const auto set : flight::available_instruction_sets()) {
      const std::string name(flight::name(set));
      add("fly/" + name + "/12 tags/2 fits", [=](auto& state) { fly_block(state, *own, set); });
      for (int s = 0; s < flight::stages; ++s) {
        benchmark::RegisterBenchmark(
            ("stage/" + name + "/" + flight::stage_names[s]).c_str(),
            [=](auto& state) { time_stage(state, *own, set, static_cast<flight::Stage>(s)); })
            ->UseManualTime()
            ->Unit(benchmark::kMillisecond);
      }
    }
    const auto fastest = flight::available_instruction_sets().back();
    for (const auto& [tags, fits] : {std::pair{48, 2}, std::pair{12, 1}, std::pair{12, 4}}) {
      const auto plan = std::make_shared<flight::Plan>(plan_of(scenario, tags, fits, seconds));
      add("fly/" + std::string(flight::name(fastest)) + "/" + std::to_string(tags) + " tags/" +
              std::to_string(fits) + " fits",
          [=](auto& state) { fly_block(state, *plan, fastest); });
    }
    const auto longer = std::make_shared<flight::Plan>(plan_of(scenario, 12, 2, 20.0));
    for (const int threads : {1, 2}) {
      benchmark::RegisterBenchmark(
          ("threads/" + std::to_string(threads)).c_str(),
          [=](auto& state) { fly_on_threads(state, *longer, 4 * flight::lanes_of(fastest), threads); })
          ->UseRealTime()
          ->Unit(benchmark::kMillisecond);
    }
    benchmark::RunSpecifiedBenchmarks();
    return 0;
  } catch (const std::exception& error) {
    std::cerr << "flight_benchmark: " << error.what() << "\n";
    return 1;
  }
}
