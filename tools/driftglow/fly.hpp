#pragma once

#include <filesystem>
#include <optional>
#include <stop_token>
#include <string>

#include "sim/flight/campaign.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tools/driftglow/options.hpp"
#include "tools/driftglow/progress.hpp"

// What `fly` and `join` share: all before the first replicate and all after the last.
namespace driftglow::program {

// Maps and receivers; writes coil.h5 and air.h5. Nothing when stopped.
std::optional<flight::Plan> ready_flight(const scenario::Scenario& scenario, const std::filesystem::path& out,
                                         int threads, const store::Run& run, const std::stop_token& stop);

// Makes the design sheet, writes the results and prints them; of a part flight.h5 alone. A tuned scenario is
// flown beside its values first, for their share of the interval; `file`: where it was read, for the files
// that it names.
void end_flight(const Options& options, const scenario::Scenario& scenario, const flight::Plan& plan,
                const flight::CampaignResult& campaign, const std::filesystem::path& file,
                const std::filesystem::path& out, const store::Run& run, const std::stop_token& stop,
                ProgressLine& progress);

}  // namespace driftglow::program
