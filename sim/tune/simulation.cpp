#include "sim/tune/simulation.hpp"

#include <cmath>
#include <numeric>

#include "sim/maps/air_state.hpp"
#include "sim/statistics/estimate.hpp"

namespace driftglow::tune {
namespace {

double value_of(const Subject& subject, const flight::ReplicateResult& replicate) {
  const auto& design = replicate.designs[*subject.tag];
  switch (subject.quantity) {
    case Quantity::duty:
      return design.fits[subject.fit].duty;
    case Quantity::flashes_per_second:
      return design.fits[subject.fit].flashes_per_minute / 60.0;
    default:
      return std::accumulate(design.pinned.begin(), design.pinned.end(), 0.0);
  }
}

}  // namespace

std::vector<Subject> flight_subjects(const scenario::Scenario& scenario) {
  std::vector<Subject> subjects;
  for (std::size_t tag = 0; tag < scenario.tags.size(); ++tag) {
    const auto& design = scenario.tags[tag];
    const auto add = [&](Quantity quantity, std::size_t fit) {
      Subject subject{};
      subject.quantity = quantity;
      subject.tag = tag;
      subject.fit = fit;
      subjects.push_back(subject);
    };
    if (!design.hold && design.body.kind == scenario::BodyKind::solid) add(Quantity::stuck_share, 0);
    for (std::size_t fit = 0; fit < design.fits.size(); ++fit) {
      add(Quantity::duty, fit);
      add(Quantity::flashes_per_second, fit);
    }
  }
  return subjects;
}

std::optional<Flown> Simulation::fly(const scenario::Scenario& scenario) {
  auto plan = flight::make_plan(scenario, maps::make_air(scenario), maps::make_drive(scenario, {}, &maps_));
  if (flight::solve_all(plan.families, settings_.threads, stop_) == parallel::Outcome::stopped)
    return std::nullopt;
  const auto campaign = flight::fly_campaign(
      plan, {settings_.replicates, std::nullopt, settings_.threads, settings_.instructions}, stop_,
      [](const flight::Progress&) {});
  if (campaign.interrupted) return std::nullopt;
  Flown flown;
  for (const auto& subject : flight_subjects(scenario)) {
    std::vector<double> values;
    for (const auto& replicate : campaign.replicates) values.push_back(value_of(subject, replicate));
    flown.push_back(std::move(values));
  }
  ++sets_;
  if (flown_) flown_(sets_);
  return flown;
}

FlownMean mean_of(const std::vector<double>& values) {
  const auto estimate = statistics::estimate(values);
  return {estimate.mean, estimate.standard_error};
}

FlownMean mean_difference(const std::vector<double>& high, const std::vector<double>& low, double factor) {
  std::vector<double> differences;
  for (std::size_t i = 0; i < high.size(); ++i) differences.push_back((high[i] - low[i]) * factor);
  return mean_of(differences);
}

}  // namespace driftglow::tune
