#pragma once

#include <string>

#include "sim/tune/tune.hpp"

namespace driftglow::report {

// tune.html: what readings say, unknowns before and after, residuals, what to read next. One file, as
// render_report() says; a function of the arguments alone.
std::string render_tune(const tune::Readings& readings, const tune::Tuned& tuned,
                        const std::string& program_version);

}  // namespace driftglow::report
