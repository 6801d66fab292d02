#include <fmt/format.h>
#include <fmt/ranges.h>

#include <functional>
#include <iterator>
#include <map>
#include <memory>

#include "models/error.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/results/flight_head.hpp"
#include "sim/results/flight_reader.hpp"
#include "sim/study/files.hpp"
#include "sim/study/stored_study.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/fly.hpp"
#include "tools/driftglow/out_folder.hpp"
#include "tools/driftglow/vary.hpp"

namespace driftglow::program {
namespace {

struct PartFile {
  std::filesystem::path path;
  std::unique_ptr<store::Reader> file;
  results::FlightHead head;
};

const char* kind_of(const PartFile& part) {
  return part.file->has_attribute("/", "study") ? "study" : "flight";
}

PartFile opened(const std::filesystem::path& given) {
  PartFile part;
  part.path = given;
  if (std::filesystem::is_directory(given)) {
    part.path = given / "study.h5";
    if (!std::filesystem::exists(part.path)) part.path = given / "flight.h5";
  }
  part.file = std::make_unique<store::Reader>(
      part.path, "expected what `driftglow fly --part` or `driftglow vary --part` writes, or its folder");
  part.head = results::read_head(*part.file);
  part.file->expect(part.head.part.has_value(),
                    fmt::format("is a whole {} and no part of one", kind_of(part)));
  part.file->expect(!part.head.interrupted,
                    "is of a part that was interrupted; go on with it by --resume first");
  return part;
}

// What keeps a part from belonging to the first one.
using Differs = std::function<std::optional<std::string>(const PartFile&)>;

// The parts in order. Throws InputError where they do not make one whole.
std::vector<PartFile> in_order(std::vector<PartFile> parts, const Differs& what_differs) {
  const auto& first = parts.front();
  const int of = first.head.part->of;
  if (first.file->origin().program_version != version)
    throw InputError(fmt::format("{}: was flown by driftglow {}, this is {}; join with the version that flew",
                                 first.path.string(), first.file->origin().program_version, version));
  std::map<int, std::size_t> by_number;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    const auto& part = parts[i];
    const auto differs = what_differs(part);
    if (differs)
      throw InputError(fmt::format("{}: does not belong to {}: {}, here being {}; expected parts of one run",
                                   part.path.string(), first.path.string(), *differs, first.path.string()));
    if (part.head.part->of != of)
      throw InputError(fmt::format("{}: is part {} of {}, but {} is one of {}; expected parts of one run",
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

ExitStatus join_flight(const Options& options, std::vector<PartFile> given) {
  const parallel::InterruptWatch watch;
  const auto origin = given.front().file->origin();
  const auto head = given.front().head;
  const auto parts = in_order(std::move(given), [&](const PartFile& part) {
    return results::what_differs(part.file->origin(), part.head, origin, head);
  });
  auto scenario = results::stored_scenario(*parts.front().file);
  scenario.flight.replicates = head.replicates_planned;
  scenario.flight.target_interval = head.target_interval;

  const auto out = out_of(options, scenario);
  const int threads = threads_of(options);
  const auto run = store::start_run(threads);
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  progress.say(fmt::format("{}: joining {} parts", scenario.name, parts.size()));
  const auto ready = ready_flight(scenario, out, threads, run, watch.token());
  if (!ready) return ExitStatus::interrupted;
  const auto outline = results::outline(*ready);
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
  end_flight(options, scenario, *ready, campaign, scenario.name + ".yaml", out, run, watch.token(), progress);
  return ExitStatus::done;
}

ExitStatus join_study(const Options& options, std::vector<PartFile> given) {
  const auto study = study::study_of(*given.front().file);
  const study::Identity identity{study, version, given.front().head.arithmetic, std::nullopt};
  const auto parts = in_order(
      std::move(given), [&](const PartFile& part) { return study::what_differs(*part.file, identity); });
  const auto out = options.out.value_or(std::filesystem::path("out") / study.name);
  const auto run = store::start_run(threads_of(options));
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  progress.say(fmt::format("{}: joining {} parts", study.name, parts.size()));
  study::Table table;
  table.designs = study.planned();
  table.results.resize(table.designs.size());
  const int count = static_cast<int>(table.designs.size());
  table.range = {0, count};
  for (const auto& part : parts) {
    const auto range = flight::range_of(part.head.part, count);
    auto pieces = study::read_pieces(*part.file, study);
    part.file->expect(static_cast<int>(pieces.size()) == range.end - range.first && !pieces.empty() &&
                          pieces.front().design == range.first,
                      fmt::format("does not hold the designs {} to {}", range.first, range.end - 1));
    for (auto& piece : pieces) table.results[piece.design] = std::move(piece.result);
  }
  end_study(options, identity, table, out, run, progress);
  return ExitStatus::done;
}

}  // namespace

ExitStatus run_join(const Options& options) {
  std::vector<PartFile> parts;
  for (const auto& path : options.parts) parts.push_back(opened(path));
  const std::string kind = kind_of(parts.front());
  for (const auto& part : parts)
    part.file->expect(kind_of(part) == kind, fmt::format("is part of a {}, but {} of a {}", kind_of(part),
                                                         parts.front().path.string(), kind));
  return kind == "study" ? join_study(options, std::move(parts)) : join_flight(options, std::move(parts));
}

}  // namespace driftglow::program
