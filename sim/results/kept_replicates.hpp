#pragma once

#include <filesystem>
#include <mutex>
#include <optional>
#include <span>
#include <string>

#include "sim/flight/campaign.hpp"
#include "sim/results/flight_head.hpp"
#include "sim/results/summary.hpp"
#include "sim/store/unfinished.hpp"

namespace driftglow::results {

// What a flight is, before anything of it is flown.
struct FlightIdentity {
  scenario::Scenario scenario;  // as flown
  std::string program_version;
  std::string arithmetic;
  std::optional<flight::Part> part;

  FlightHead head() const;
  store::Origin origin() const;
};

// The finished replicates of a flight that is not whole yet: small flight.h5's in the folder
// `flight.unfinished` beside the results.
class KeptReplicates {
 public:
  KeptReplicates(const std::filesystem::path& out, FlightIdentity identity, store::Run run);

  static std::filesystem::path folder_in(const std::filesystem::path& out);

  // How many replicates are kept there; 0 without the folder.
  int count() const;
  // What keeps those there from being of this flight; nothing where they are, or none is kept.
  std::optional<std::string> what_differs() const;
  flight::Replicates load(const Outline& outline) const;

  void begin() const { kept_.begin(); }
  // Keeps results of the flying threads, writing now and then.
  void add(const Outline& outline, int first, std::span<const flight::ReplicateResult> results);
  // Writes what add() still holds.
  void flush(const Outline& outline);
  void remove() const { kept_.remove(); }

 private:
  void write(const Outline& outline, flight::Replicates replicates);

  store::Unfinished kept_;
  FlightIdentity identity_;
  store::Run run_;
  store::SaveTimer timer_;
  std::mutex adding_, writing_;
  flight::Replicates pending_;
};

}  // namespace driftglow::results
