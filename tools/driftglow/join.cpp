#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>
#include <memory>

#include "models/error.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/results/flight_head.hpp"
#include "sim/results/flight_reader.hpp"
#include "sim/scenario/reader.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/fly.hpp"
#include "tools/driftglow/out_folder.hpp"

namespace driftglow::program {
namespace {

struct PartFile {
  std::filesystem::path path;
  std::unique_ptr<store::Reader> file;
  results::FlightHead head;
};

PartFile opened(const std::filesystem::path& given) {
  PartFile part;
  part.path = std::filesystem::is_directory(given) ? given / "flight.h5" : given;
  part.file = std::make_unique<store::Reader>(
      part.path, "expected a flight.h5 of `driftglow fly --part`, or its folder");
  part.head = results::read_head(*part.file);
  part.file->expect(part.head.part.has_value(), "is no part of a flight but a flight");
  part.file->expect(!part.head.interrupted,
                    "is of a part that was interrupted; go on with it by --resume first");
  return part;
}

// The parts in order. Throws InputError where they do not make one flight.
std::vector<PartFile> in_order(const std::vector<std::filesystem::path>& paths) {
  std::vector<PartFile> parts;
  for (const auto& path : paths) parts.push_back(opened(path));
  const auto& first = parts.front();
  const int of = first.head.part->of;
  if (first.file->origin().program_version != version)
    throw InputError(fmt::format("{}: was flown by driftglow {}, this is {}; join with the version that flew",
                                 first.path.string(), first.file->origin().program_version, version));
  std::map<int, std::size_t> by_number;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const auto& part = parts[i];
    const auto differs =
        results::what_differs(part.file->origin(), part.head, first.file->origin(), first.head);
    if (differs)
      throw InputError(
          fmt::format("{}: does not belong to {}: {}, here being {}; expected parts of one flight",
                      part.path.string(), first.path.string(), *differs, first.path.string()));
    if (part.head.part->of != of)
      throw InputError(fmt::format("{}: is part {} of {}, but {} is one of {}; expected parts of one flight",
                                   part.path.string(), part.head.part->number, part.head.part->of,
                                   first.path.string(), of));
    const auto [other, fresh] = by_number.emplace(part.head.part->number, i);
    if (!fresh)
      throw InputError(fmt::format("{}: is part {} of {}, and so is {}; expected every part once",
                                   part.path.string(), part.head.part->number, of,
                                   parts[other->second].path.string()));
  }
  std::vector<int> missing;
  for (int number = 1; number <= of; ++number)
    if (!by_number.contains(number)) missing.push_back(number);
  if (!missing.empty())
    throw InputError(fmt::format("driftglow: join: part{} {} of {} {} missing; fly {} with --part K/{}",
                                 missing.size() == 1 ? "" : "s", fmt::join(missing, ", "), of,
                                 missing.size() == 1 ? "is" : "are", missing.size() == 1 ? "it" : "them",
                                 of));
  std::vector<PartFile> ordered;
  for (const auto& [number, i] : by_number) ordered.push_back(std::move(parts[i]));
  return ordered;
}

}  // namespace

ExitStatus run_join(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto parts = in_order(options.parts);
  const auto& head = parts.front().head;
  const auto origin = parts.front().file->origin();
  auto scenario = scenario::parse_scenario(origin.scenario_text, head.scenario_name + ".yaml");
  scenario.flight.seed = origin.seed;
  scenario.flight.replicates = head.replicates_planned;
  scenario.flight.target_interval = head.target_interval;

  const auto out = out_of(options, scenario);
  const int threads = threads_of(options);
  const auto run = store::start_run(threads);
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  progress.say(fmt::format("{}: joining {} parts", scenario.name, parts.size()));
  const auto ready = ready_flight(scenario, out, threads, run, watch.token());
  if (!ready.plan) return ExitStatus::interrupted;
  const auto outline = results::outline(*ready.plan);
  flight::CampaignResult campaign{{}, {}, false, {0.0, 0.0}, 0, std::nullopt, head.arithmetic};
  for (const auto& part : parts) {
    auto replicates = results::read_replicates(*part.file, outline);
    const auto range = flight::range_of(part.head.part, head.replicates_planned);
    part.file->expect(static_cast<int>(replicates.numbers.size()) == range.end - range.first &&
                          replicates.numbers.front() == range.first,
                      fmt::format("does not hold the replicates {} to {}", range.first, range.end - 1));
    campaign.numbers.insert(campaign.numbers.end(), replicates.numbers.begin(), replicates.numbers.end());
    std::move(replicates.results.begin(), replicates.results.end(), std::back_inserter(campaign.replicates));
  }
  end_flight(options, scenario, ready, campaign, out, run, progress);
  return ExitStatus::done;
}

}  // namespace driftglow::program
