#pragma once

#include <filesystem>

#include "sim/study/files.hpp"
#include "tools/driftglow/options.hpp"
#include "tools/driftglow/progress.hpp"

namespace driftglow::program {

// Writes the study's results and prints them; of a part study.h5 alone.
void end_study(const Options& options, const study::Identity& identity, const study::Table& table,
               const std::filesystem::path& out, const store::Run& run, ProgressLine& progress);

}  // namespace driftglow::program
