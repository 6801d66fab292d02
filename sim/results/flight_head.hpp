#pragma once

#include <optional>
#include <string>

#include "sim/flight/campaign.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/store/hdf5_file.hpp"

namespace driftglow::results {

// How a flight was asked for, in the root attributes of flight.h5 beside store::Origin.
struct FlightHead {
  std::string scenario_name;
  int replicates_planned;                 // of all parts
  std::optional<double> target_interval;  // 1
  std::string arithmetic;
  std::optional<flight::Part> part;
  bool interrupted;
};

FlightHead head_of(const flight::CampaignResult& campaign, const scenario::Scenario& scenario);
void write_head(store::Writer& file, const FlightHead& head);
FlightHead read_head(const store::Reader& file);

// The scenario that a file is of, with the seed that it was flown with.
scenario::Scenario stored_scenario(const store::Reader& file);

// What keeps a flight on file from being part of the one at hand: "drive.driver.supply is `23 V` there and
// `24 V` here", the first key that differs; nothing where they belong together. Parts and interruptions are
// the caller's.
std::optional<std::string> what_differs(const store::Origin& there, const FlightHead& head_there,
                                        const store::Origin& here, const FlightHead& head_here);

}  // namespace driftglow::results
