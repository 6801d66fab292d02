#pragma once

#include <string>

#include "tools/driftglow/commands.hpp"

namespace driftglow::program {

// Prints the shell script that flies a scenario (`fly`) or a study (`vary`) in parts as a job array of the
// Slurm scheduler and joins them when all are done.
ExitStatus print_job_array(const Options& options, const std::string& command);

}  // namespace driftglow::program
