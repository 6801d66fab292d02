#include "tools/driftglow/job_array.hpp"

#include <fmt/format.h>

#include "models/error.hpp"
#include "tools/driftglow/commands.hpp"

namespace driftglow::program {
namespace {

// For a shell, whatever the name holds.
std::string quoted(const std::string& text) {
  std::string result = "'";
  for (const char c : text) result += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return result + "'";
}

}  // namespace

ExitStatus print_job_array(const Options& options, const std::string& command) {
  if (options.part)
    throw InputError(
        "driftglow: --slurm: stands beside --part; expected one of the two, the script gives each task its "
        "part");
  const int parts = *options.slurm_parts;
  const auto absolute = [](const std::filesystem::path& path) {
    return quoted(std::filesystem::absolute(path).lexically_normal().string());
  };
  const std::string name = options.scenario.stem().string();
  const auto out = options.out.value_or(std::filesystem::path("out") / name);
  std::string flags = "--quiet";
  if (options.seed) flags += fmt::format(" --seed {}", *options.seed);
  if (options.replicates) flags += fmt::format(" --replicates {}", *options.replicates);
  if (options.instructions) flags += fmt::format(" --instructions {}", flight::name(*options.instructions));
  print_result(fmt::format(
      R"(#!/bin/sh
# {parts} parts of one run as a job array of Slurm, then their join. Submit with: sh <this file>
# Submitted again it flies what is missing and leaves finished parts alone. All machines must see the same folders
# and have the same driftglow; $DRIFTGLOW names it where it lies elsewhere.
set -eu
driftglow=${{DRIFTGLOW:-{program}}}
input={input}
out={out}
mkdir -p "$out"
export driftglow input out
array=$(sbatch --parsable --job-name={job} --array=1-{parts} --cpus-per-task={threads} --output="$out/part_%a.log" <<'PART'
#!/bin/sh
exec "$driftglow" {command} "$input" {flags} --threads {threads} --resume \
  --part "$SLURM_ARRAY_TASK_ID/{parts}" --out "$out/part_${{SLURM_ARRAY_TASK_ID}}_of_{parts}"
PART
)
array=${{array%%;*}}
join=$(sbatch --parsable --job-name={job} --dependency="afterok:$array" --kill-on-invalid-dep=yes --output="$out/join.log" <<'JOIN'
#!/bin/sh
exec "$driftglow" join "$out"/part_*_of_{parts} --quiet --out "$out"
JOIN
)
echo "parts: job $array, join: job ${{join%%;*}}, results: $out"
)",
      fmt::arg("parts", parts),
      fmt::arg("program", absolute(std::filesystem::read_symlink("/proc/self/exe"))),
      fmt::arg("input", absolute(options.scenario)), fmt::arg("out", absolute(out)),
      fmt::arg("job", quoted(name)), fmt::arg("threads", options.threads.value_or(1)),
      fmt::arg("command", command), fmt::arg("flags", flags)));
  return ExitStatus::done;
}

}  // namespace driftglow::program
