#pragma once

#include "sim/scenario/scenario.hpp"
#include "tools/driftglow/options.hpp"

// The commands; each returns an exit status of ExitStatus and throws what main turns into one.
namespace driftglow::program {

enum ExitStatus : int { done = 0, failure_of_ours = 1, wrong_input = 2, interrupted = 130 };

enum class KeysForm { text, schema, study_schema, bench_schema };

ExitStatus run_sheet(const Options& options);
ExitStatus run_map(const Options& options);
ExitStatus run_fly(const Options& options);
ExitStatus run_only(const Options& options);  // options.only is there
ExitStatus run_vary(const Options& options);
ExitStatus run_tune(const Options& options);
ExitStatus run_show(const ShowOptions& options);
ExitStatus run_join(const Options& options);
ExitStatus run_keys(KeysForm form);

// The scenario with the command line's overrides.
scenario::Scenario scenario_of(const Options& options);
std::filesystem::path out_of(const Options& options, const scenario::Scenario& scenario);
int threads_of(const Options& options);

// Result text; throws when standard output does not take it (full disk).
void print_result(const std::string& text);

}  // namespace driftglow::program
