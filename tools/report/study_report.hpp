#pragma once

#include <string>

#include "sim/study/run.hpp"

namespace driftglow::report {

// report.html of a study: verdict in words, ranked table, Pareto picture of two goals, main effects, Sobol'
// indices, limits. One file, as render_report() says. A function of the arguments alone.
std::string render_study(const study::Study& study, const study::Table& table,
                         const std::string& program_version);

// The same as a verdict of one paragraph, plain text.
std::string study_verdict(const study::Study& study, const study::Table& table);

}  // namespace driftglow::report
