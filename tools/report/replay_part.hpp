#pragma once

#include <string>

#include "sim/flight/result.hpp"
#include "sim/results/setting.hpp"
#include "sim/results/summary.hpp"

namespace driftglow::report {

// The replay's part of the page and its data; a sentence where nothing was recorded.
std::string replay_part(const results::Setting& setting, const results::Summary& summary,
                        const flight::Trace* trace);

// Text of a JSON document as it may stand in a script element, of HTML and of XML: no <, >, & and none of the
// line ends that are not JavaScript's.
std::string script_safe(const std::string& json);

}  // namespace driftglow::report
