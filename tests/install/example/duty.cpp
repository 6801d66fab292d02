#include <cstdio>
#include <driftglow/models/error.hpp>
#include <driftglow/sim/maps/air_state.hpp>
#include <driftglow/sim/maps/drive_state.hpp>
#include <driftglow/sim/results/summary.hpp>
#include <driftglow/sim/scenario/reader.hpp>
#include <stop_token>

// Flies the scenario file that is named and prints the duty of each tag design and emitter.
int main(int argc, char** argv) {
  using namespace driftglow;
  if (argc != 2) {
    std::fputs("usage: duty SCENARIO\n", stderr);
    return 2;
  }
  try {
    const auto scenario = scenario::read_scenario(argv[1]);
    const auto plan = flight::make_plan(scenario, maps::make_air(scenario), maps::make_drive(scenario, {}));
    const flight::CampaignSettings settings{.replicates = scenario.flight.replicates,
                                            .target_interval = {},
                                            .threads = 1,
                                            .instructions = flight::available_instruction_sets().back()};
    const auto flown =
        flight::fly_campaign(plan, settings, std::stop_token(), [](const flight::Progress&) {});
    for (const auto& design : results::summarise(plan, flown).designs)
      for (const auto& fit : design.fits)
        std::printf("%s %s %.4f %.4f\n", design.name.c_str(), fit.emitter.c_str(), fit.duty.mean,
                    fit.duty.half_width);
  } catch (const InputError& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 2;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "duty: %s\n", error.what());
    return 1;
  }
}
