#pragma once

#include <string>

#include "sim/results/setting.hpp"

namespace driftglow::report {

// report.html: one file that asks for nothing from outside; its content security policy allows its own style
// and script alone, by their hashes. It is well-formed XML too. Every text of the scenario is escaped. The
// bytes follow from the arguments alone, so that a flight.h5 gives the report of the flight that wrote it.
std::string render_report(const results::Setting& setting, const flight::CampaignResult& campaign,
                          const store::Origin& origin);

// "yellow-green glows 48.1 ± 0.6 % of the time, white 24.3 ± 0.5 %; yellow-green and white are 23.8 ± 0.3
// points apart on the same flights." Plain text, for a terminal as well.
std::string verdict(const results::DesignSummary& design, const results::DesignOutline& outline);

}  // namespace driftglow::report
