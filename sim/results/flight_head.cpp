#include "sim/results/flight_head.hpp"

#include <fmt/format.h>

#include "sim/scenario/difference.hpp"
#include "sim/scenario/reader.hpp"

namespace driftglow::results {
namespace {

std::string interval_text(const std::optional<double>& interval) {
  return interval ? fmt::format("{} %", 100.0 * *interval) : "left out";
}

}  // namespace

FlightHead head_of(const flight::CampaignResult& campaign, const scenario::Scenario& scenario) {
  return {scenario.name, scenario.flight.replicates, scenario.flight.target_interval, campaign.arithmetic,
          campaign.part, campaign.interrupted};
}

void write_head(store::Writer& file, const FlightHead& head) {
  file.set_text("/", "scenario_name", head.scenario_name);
  file.set_integer("/", "replicates_planned", head.replicates_planned);
  if (head.target_interval) file.set_number("/", "target_interval", *head.target_interval, "1");
  file.set_text("/", "arithmetic", head.arithmetic);
  file.set_integer("/", "interrupted", head.interrupted ? 1 : 0);
  if (!head.part) return;
  file.set_integer("/part", "number", head.part->number);
  file.set_integer("/part", "of", head.part->of);
}

FlightHead read_head(const store::Reader& file) {
  FlightHead head{file.text("/", "scenario_name"),
                  static_cast<int>(file.integer("/", "replicates_planned")),
                  std::nullopt,
                  file.text("/", "arithmetic"),
                  std::nullopt,
                  file.integer("/", "interrupted") != 0};
  if (file.has_attribute("/", "target_interval")) head.target_interval = file.number("/", "target_interval");
  if (file.has("/part"))
    head.part = flight::Part{static_cast<int>(file.integer("/part", "number")),
                             static_cast<int>(file.integer("/part", "of"))};
  return head;
}

scenario::Scenario stored_scenario(const store::Reader& file) {
  const auto origin = file.origin();
  auto scenario = scenario::parse_scenario(origin.scenario_text, read_head(file).scenario_name + ".yaml");
  scenario.flight.seed = origin.seed;
  return scenario;
}

std::optional<std::string> what_differs(const store::Origin& there, const FlightHead& head_there,
                                        const store::Origin& here, const FlightHead& head_here) {
  const auto told = [](const std::string& key, const std::string& is_there, const std::string& is_here) {
    return fmt::format("{} is {} there and {} here", key, is_there, is_here);
  };
  if (const auto key = scenario::first_difference(here.scenario_text, there.scenario_text))
    return told(key->key, key->there, key->here);
  // The text itself is part of the result.
  if (here.scenario_hash != there.scenario_hash) return "the scenario has another comment or layout there";
  if (here.seed != there.seed)
    return told("seed", fmt::format("{}", there.seed), fmt::format("{}", here.seed));
  if (here.program_version != there.program_version)
    return told("the version of driftglow", there.program_version, here.program_version);
  if (head_here.target_interval != head_there.target_interval)
    return told("flight.target_interval", interval_text(head_there.target_interval),
                interval_text(head_here.target_interval));
  if (head_here.replicates_planned != head_there.replicates_planned)
    return told("replicates", fmt::format("{}", head_there.replicates_planned),
                fmt::format("{}", head_here.replicates_planned));
  if (head_here.arithmetic != head_there.arithmetic)
    return told("the arithmetic (--instructions)", head_there.arithmetic, head_here.arithmetic);
  if (head_here.scenario_name != head_there.scenario_name)
    return told("the scenario's file name", "`" + head_there.scenario_name + "`",
                "`" + head_here.scenario_name + "`");
  return std::nullopt;
}

}  // namespace driftglow::results
