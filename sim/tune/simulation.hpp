#pragma once

#include <functional>
#include <stop_token>
#include <vector>

#include "sim/flight/campaign.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/tune/readings.hpp"

// What takes flights to compute, always by the same random numbers.
namespace driftglow::tune {

// All that is taken from a flight, in the order of the designs: of each the stuck share, where it flies, and
// of each fit duty and flashes.
std::vector<Subject> flight_subjects(const scenario::Scenario& scenario);

// Each subject's value in every replicate: [subject][replicate].
using Flown = std::vector<std::vector<double>>;

struct FlightSettings {
  int replicates, threads;
  flight::InstructionSet instructions;
};

// Flies scenarios that differ in a few values; coil maps that they share are computed once.
class Simulation {
 public:
  // `flown`: called after each set of flights, from the calling thread.
  Simulation(const FlightSettings& settings, std::stop_token stop, std::function<void(int sets)> flown = {})
      : settings_(settings), stop_(std::move(stop)), flown_(std::move(flown)) {}

  // Nothing when stopped. Throws InputError as the flight does.
  std::optional<Flown> fly(const scenario::Scenario& scenario);

  int sets() const { return sets_; }

 private:
  FlightSettings settings_;
  std::stop_token stop_;
  std::function<void(int)> flown_;
  maps::SharedCoilMaps maps_;
  int sets_ = 0;
};

// Mean of one subject and its standard error; not a number where no replicate had it.
struct FlownMean {
  double mean, standard_error;
};
FlownMean mean_of(const std::vector<double>& values);
// Of the differences, replicate by replicate, times `factor`.
FlownMean mean_difference(const std::vector<double>& high, const std::vector<double>& low, double factor);

}  // namespace driftglow::tune
