#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <stop_token>
#include <string>

#include "sim/results/summary.hpp"
#include "sim/tune/simulation.hpp"

namespace driftglow::tune {

// How far duties may be off by what tuning left uncertain (scenario.tuned must be there): for each principal
// axis of the values' covariance the scenario is flown a standard deviation to either side, by the same
// random numbers; half the differences, less what their flights leave to chance, add up as squares. To first
// order; the half width is that of a normal distribution. `file`: of the scenario, for the files that it
// names. Nothing when stopped. Throws InputError where a tuned value is not the scenario's or correlations do
// not go together.
std::optional<results::ParameterWidths> parameter_widths(const scenario::Scenario& scenario,
                                                         const std::filesystem::path& file,
                                                         const FlightSettings& settings,
                                                         const std::stop_token& stop);

}  // namespace driftglow::tune
