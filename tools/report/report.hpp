#pragma once

#include <string>
#include <vector>

#include "sim/flight/plan.hpp"
#include "sim/results/summary.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::report {

// report.html: one file that asks for nothing from outside and runs no script. It is well-formed XML too.
// Every text of the scenario is escaped. The bytes follow from the arguments alone.
std::string render_report(const scenario::Scenario& scenario, const flight::Plan& plan,
                          const results::Summary& summary, const std::vector<std::string>& cautions,
                          const std::string& program_version);

// "yellow-green glows 48.1 ± 0.6 % of the time, white 24.3 ± 0.5 %; yellow-green and white are 23.8 ± 0.3
// points apart on the same flights." Plain text, for a terminal as well.
std::string verdict(const results::DesignSummary& design, const results::DesignOutline& outline);

}  // namespace driftglow::report
