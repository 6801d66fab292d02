#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "models/error.hpp"
#include "sim/flight/campaign.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/parallel/pool.hpp"
#include "sim/results/files.hpp"
#include "sim/results/summary.hpp"
#include "sim/sheet/design_sheet.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/store/atomic_file.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/out_folder.hpp"
#include "tools/driftglow/progress.hpp"
#include "tools/report/make_setting.hpp"
#include "tools/report/report.hpp"

namespace driftglow::program {
namespace {

std::string half_width(double value) {
  return std::isfinite(value) ? fmt::format("+- {:.1f} %", 100.0 * value) : "% (one replicate)";
}

std::string duty_table(const results::Summary& summary) {
  std::size_t design_width = 6, emitter_width = 7;
  for (const auto& design : summary.designs) {
    design_width = std::max(design_width, design.name.size());
    for (const auto& fit : design.fits) emitter_width = std::max(emitter_width, fit.emitter.size());
  }
  std::string text = fmt::format("Duty by tag design and emitter, 95 % interval over {} replicate{}\n\n",
                                 summary.numbers.size(), summary.numbers.size() == 1 ? "" : "s");
  text += fmt::format("{:<{}}  {:<{}}  {:>22}  {:>11}  {:>13}  {:>7}\n", "design", design_width, "emitter",
                      emitter_width, "duty", "flashes/min", "mean on spell", "pinned");
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      text += fmt::format(
          "{:<{}}  {:<{}}  {:>22}  {:>11.1f}  {:>13}  {:>7}\n", design.name, design_width, fit.emitter,
          emitter_width, fmt::format("{:.1f} {}", 100.0 * fit.duty.mean, half_width(fit.duty.half_width)),
          fit.flashes_per_minute.mean,
          std::isnan(fit.mean_on_spell.mean) ? "none" : sheet::with_prefix(fit.mean_on_spell.mean, "s"),
          sheet::percent(design.pinned_anywhere.mean));
    }
  }
  return text;
}

std::string differences(const results::Summary& summary) {
  std::string text;
  for (const auto& design : summary.designs) {
    for (const auto& difference : design.differences) {
      text += fmt::format("{}: {} glows {:+.1f} {} of the time compared with {}\n", design.name,
                          design.fits[difference.first].emitter, 100.0 * difference.paired.mean,
                          half_width(difference.paired.half_width), design.fits[difference.second].emitter);
    }
  }
  return text.empty() ? text : "\nPaired differences, on the same flights\n" + text;
}

std::string missed_target(const scenario::Scenario& scenario, const results::Summary& summary) {
  if (!scenario.flight.target_interval) return "";
  double widest = 0.0;
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) widest = std::max(widest, fit.duty.half_width);
  }
  if (widest <= *scenario.flight.target_interval) return "";
  return fmt::format(
      "\nThe wanted interval of +- {:.2f} % was not reached: the widest is +- {:.2f} %; fly more "
      "replicates.\n",
      100.0 * *scenario.flight.target_interval, 100.0 * widest);
}

std::string listed(const std::vector<std::string>& cautions) {
  std::string text = "\nCautions (local rules decide)\n";
  for (const auto& caution : cautions) text += "- " + caution + "\n";
  return text;
}

}  // namespace

ExitStatus run_fly(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto scenario = scenario_of(options);
  const auto out = out_of(options, scenario);
  const int threads = threads_of(options);
  const auto run = store::start_run(threads);
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  const auto stopped = [&] {
    progress.say("interrupted before a replicate was finished; no results were written");
    return ExitStatus::interrupted;
  };

  progress.say(fmt::format("{}: coil map, air and receivers", scenario.name));
  std::optional<maps::DriveState> drive;
  std::optional<maps::AirState> air;
  parallel::run_blocks(
      2, threads,
      [&](std::size_t i) {
        if (i == 0) {
          drive = maps::make_drive(scenario, out / "coil.h5");
        } else {
          air = maps::make_air(scenario);
        }
      },
      watch.token());
  if (watch.interrupted()) return stopped();
  auto plan = flight::make_plan(scenario, std::move(*air), std::move(*drive));
  flight::solve_all(plan.families, threads, watch.token());
  if (watch.interrupted()) return stopped();
  maps::write_coils(plan.drive, scenario, version, out / "coil.h5", run);
  maps::write_air(plan.air, scenario, version, out / "air.h5", run);
  const auto made = sheet::make_sheet(scenario, plan);

  const auto& wanted = scenario.flight;
  progress.say(fmt::format("flying {}{} replicates of {} tags on {} thread{}",
                           wanted.target_interval ? "up to " : "", wanted.replicates, plan.tags, threads,
                           threads == 1 ? "" : "s"));
  progress.begin();
  const auto instructions = options.instructions.value_or(flight::available_instruction_sets().back());
  const auto campaign =
      flight::fly_campaign(plan, {wanted.replicates, wanted.target_interval, threads, instructions},
                           watch.token(), [&](const flight::Progress& so_far) { progress.show(so_far); });
  if (campaign.replicates.empty()) return stopped();

  const auto summary = results::summarise(plan, campaign);
  const auto setting = report::make_setting(scenario, plan, made);
  const store::Origin origin{version, scenario.text, scenario.hash, plan.seed};
  results::write_results(out, summary, campaign, setting, origin, run);
  const auto report = out / "report.html";
  store::write_text_atomically(report, report::render_report(setting, campaign, origin));

  progress.say(fmt::format("{:.1f} ns per tag-step and core ({}), {:.2f} s of core time to build the tags",
                           1e9 * campaign.timing.flight / static_cast<double>(campaign.tag_steps),
                           flight::name(instructions), campaign.timing.build));
  if (options.form == Form::json) {
    print_result(results::summary_json(summary, setting, origin));
    progress.say("report: " + report.string());
  } else {
    print_result(duty_table(summary) + missed_target(scenario, summary) + differences(summary) +
                 listed(report::all_cautions(setting, summary)) + "\nreport: " + report.string() + "\n");
  }
  if (!campaign.interrupted) return ExitStatus::done;
  progress.say(
      fmt::format("interrupted: the results are of the {} finished replicates", campaign.replicates.size()));
  return ExitStatus::interrupted;
}

}  // namespace driftglow::program
