#include "sim/results/kept_replicates.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <numeric>
#include <set>

#include "models/error.hpp"
#include "sim/results/files.hpp"
#include "sim/results/flight_reader.hpp"

namespace driftglow::results {
namespace {

constexpr const char* fly_them_again = "remove it and its replicates will be flown again";

flight::Replicates sorted(flight::Replicates given) {
  std::vector<std::size_t> order(given.numbers.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return given.numbers[a] < given.numbers[b]; });
  flight::Replicates result;
  for (const std::size_t i : order) {
    result.numbers.push_back(given.numbers[i]);
    result.results.push_back(std::move(given.results[i]));
  }
  return result;
}

}  // namespace

FlightHead FlightIdentity::head() const {
  return {scenario.name, scenario.flight.replicates, scenario.flight.target_interval, arithmetic, part, true};
}

store::Origin FlightIdentity::origin() const {
  return {program_version, scenario.text, scenario.hash, scenario.flight.seed};
}

KeptReplicates::KeptReplicates(const std::filesystem::path& out, FlightIdentity identity, store::Run run)
    : kept_(folder_in(out)), identity_(std::move(identity)), run_(std::move(run)) {}

std::filesystem::path KeptReplicates::folder_in(const std::filesystem::path& out) {
  return out / "flight.unfinished";
}

int KeptReplicates::count() const {
  std::size_t sum = 0;
  for (const auto& block : kept_.files())
    sum += store::Reader(block, fly_them_again).read<std::int32_t>("/replicates", 1).values.size();
  return static_cast<int>(sum);
}

std::optional<std::string> KeptReplicates::what_differs() const {
  for (const auto& block : kept_.files()) {
    const store::Reader file(block, fly_them_again);
    const auto head = read_head(file);
    if (auto found = results::what_differs(file.origin(), head, identity_.origin(), identity_.head()))
      return found;
    const auto shown = [](const std::optional<flight::Part>& part) {
      return part ? fmt::format("{}/{}", part->number, part->of) : "left out";
    };
    if (head.part != identity_.part)
      return fmt::format("--part is {} there and {} here", shown(head.part), shown(identity_.part));
  }
  return std::nullopt;
}

flight::Replicates KeptReplicates::load(const Outline& outline) const {
  flight::Replicates all;
  std::set<int> seen;
  for (const auto& block : kept_.files()) {
    const store::Reader file(block, fly_them_again);
    auto kept = read_replicates(file, outline);
    for (const int number : kept.numbers) {
      file.expect(seen.insert(number).second,
                  fmt::format("holds replicate {}, which another file holds too", number));
    }
    all.numbers.insert(all.numbers.end(), kept.numbers.begin(), kept.numbers.end());
    std::move(kept.results.begin(), kept.results.end(), std::back_inserter(all.results));
  }
  return all;
}

void KeptReplicates::add(const Outline& outline, int first,
                         std::span<const flight::ReplicateResult> results) {
  flight::Replicates due;
  {
    const std::lock_guard lock(adding_);
    for (const auto& result : results) {
      pending_.numbers.push_back(first++);
      pending_.results.push_back(result);
    }
    if (!timer_.due()) return;
    std::swap(due, pending_);
  }
  write(outline, std::move(due));
}

void KeptReplicates::flush(const Outline& outline) {
  flight::Replicates due;
  {
    const std::lock_guard lock(adding_);
    std::swap(due, pending_);
  }
  write(outline, std::move(due));
}

void KeptReplicates::write(const Outline& outline, flight::Replicates replicates) {
  if (replicates.numbers.empty()) return;
  replicates = sorted(std::move(replicates));
  flight::CampaignResult block{
      std::move(replicates.numbers), std::move(replicates.results), true, {0.0, 0.0}, 0, identity_.part,
      identity_.arithmetic};
  const auto summary = summarise(outline, block);
  const std::lock_guard lock(writing_);
  write_flight(kept_.file_from(block.numbers.front()), summary, block, identity_.scenario, nullptr,
               identity_.program_version, run_);
}

}  // namespace driftglow::results
