#pragma once

#include <filesystem>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "sim/flight/campaign.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tools/driftglow/options.hpp"
#include "tools/driftglow/progress.hpp"

// What `fly` and `join` share: all before the first replicate and all after the last.
namespace driftglow::program {

struct ReadyFlight {
  std::optional<flight::Plan> plan;   // absent: stopped
  std::vector<std::string> cautions;  // that need no flight
};

// Maps, receivers and the design sheet; writes coil.h5 and air.h5.
ReadyFlight ready_flight(const scenario::Scenario& scenario, const std::filesystem::path& out, int threads,
                         const store::Run& run, const std::stop_token& stop);

// Writes the results and prints them; of a part flight.h5 alone.
void end_flight(const Options& options, const scenario::Scenario& scenario, const ReadyFlight& ready,
                const flight::CampaignResult& campaign, const std::filesystem::path& out,
                const store::Run& run, ProgressLine& progress);

}  // namespace driftglow::program
