#include "tools/driftglow/fly.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>

#include "models/error.hpp"
#include "sim/flight/campaign.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/parallel/pool.hpp"
#include "sim/results/files.hpp"
#include "sim/results/kept_replicates.hpp"
#include "sim/results/summary.hpp"
#include "sim/sheet/design_sheet.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/tune/propagate.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/out_folder.hpp"
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

std::string parameters(const results::Summary& summary) {
  if (!summary.parameters) return "";
  std::string text =
      fmt::format("\nOf the interval, 95 %: chance, and what {} left uncertain of {} tuned values\n",
                  summary.parameters->readings, summary.parameters->values);
  for (const auto& design : summary.designs)
    for (const auto& fit : design.fits)
      text += fmt::format("{}, {}: statistical {}, parameter {}, together {}\n", design.name, fit.emitter,
                          half_width(fit.duty.half_width), half_width(*fit.parameter_half_width),
                          half_width(total_half_width(fit)));
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

// Empty without coupling.
std::string coupling_shifts(const results::Summary& summary) {
  std::string text;
  for (const auto& design : summary.designs) {
    for (const auto& fit : design.fits) {
      if (!fit.coupling_shift) continue;
      const auto& shift = *fit.coupling_shift;
      text += fmt::format("{} with {}: {:+.3f} % of the time", design.name, fit.emitter, 100.0 * shift.mean);
      text +=
          std::isfinite(shift.half_width) ? fmt::format(" +- {:.3f} %\n", 100.0 * shift.half_width) : "\n";
    }
  }
  return text.empty() ? text : "\nWhat the tags' coupling does to the duty, on the same flights\n" + text;
}

// What each takes of the input. Terms below a thousandth are left out.
std::string energy_line(const results::Summary& summary) {
  if (!summary.energy || summary.energy->terms.front().mean <= 0.0) return "";
  const auto& energy = *summary.energy;
  const auto terms = flight::ledger_terms();
  const double input = energy.terms.front().mean;
  std::vector<std::string> parts;
  for (std::size_t i = 1; i < terms.size(); ++i) {
    const double share = energy.terms[i].mean / input;
    if (share < 1e-3) continue;
    std::string name = terms[i].name;
    std::replace(name.begin(), name.end(), '_', ' ');
    parts.push_back(fmt::format("{} {:.1f} %", name, 100.0 * share));
  }
  return fmt::format("\n{} from {}: {}; balanced within {:.1g}\n", sheet::with_prefix(input, "W"),
                     results::words(energy.source), fmt::join(parts, ", "),
                     std::max(energy.worst_violation, 1e-9));
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

// Whether the folder holds this flight, whole. Throws InputError when what it holds is another flight.
bool is_whole(const std::filesystem::path& out, const results::FlightIdentity& identity) {
  const auto path = out / "flight.h5";
  if (!std::filesystem::exists(path) || std::filesystem::exists(results::KeptReplicates::folder_in(out)))
    return false;
  const store::Reader file(path, "remove it, or name another folder with --out");
  const auto head = results::read_head(file);
  const auto differs = results::what_differs(file.origin(), head, identity.origin(), identity.head());
  file.expect(!differs, "is of another flight: " + differs.value_or(""));
  file.expect(head.part == identity.part, "is of another part of the flight");
  return !head.interrupted;
}

void print_whole(const Options& options, const std::filesystem::path& out, ProgressLine& progress) {
  progress.say(fmt::format("{}: this flight is finished; nothing was touched", out.string()));
  const auto summary = out / "summary.json";
  if (options.form == Form::json && std::filesystem::exists(summary)) {
    std::ifstream stream(summary, std::ios::binary);
    print_result({std::istreambuf_iterator<char>(stream), {}});
  }
}

// Refuses, drops or welcomes what an earlier run left unfinished.
void settle_kept(const Options& options, const std::filesystem::path& out,
                 const results::KeptReplicates& kept, ProgressLine& progress) {
  const int count = kept.count();
  if (count == 0) return kept.remove();
  const auto differs = kept.what_differs();
  if (options.start == Start::resume) {
    if (differs)
      throw InputError(fmt::format(
          "{}: the unfinished flight there is another one: {}; expected the same, or another folder by --out",
          out.string(), *differs));
    return progress.say(fmt::format("going on after {} finished replicates", count));
  }
  if (!differs)
    throw InputError(
        fmt::format("{}: holds {} finished replicates of this flight; go on with --resume, or "
                    "remove {} to fly it anew",
                    out.string(), count, results::KeptReplicates::folder_in(out).string()));
  progress.say(fmt::format("dropping {} finished replicates of an unfinished flight that was another one: {}",
                           count, *differs));
  kept.remove();
}

// After a failure: what is finished is kept. A second failure must not hide the first.
void keep_finished(results::KeptReplicates& keeper, const results::Outline& outline, ProgressLine& progress) {
  try {
    keeper.flush(outline);
    if (const int count = keeper.count(); count > 0)
      progress.say(fmt::format("{} finished replicates are kept; --resume goes on with them", count));
    else
      keeper.remove();
  } catch (const std::exception& error) {
    progress.say(error.what());
  }
}

void check_part(const Options& options, const scenario::Scenario& scenario) {
  if (!options.part) return;
  if (scenario.flight.target_interval)
    throw InputError(
        "driftglow: --part: the scenario has `flight.target_interval`, which looks at all replicates before "
        "it stops; give a number with --replicates");
  if (options.part->of > scenario.flight.replicates)
    throw InputError(fmt::format("driftglow: --part: {} replicates do not make {} parts; expected at most {}",
                                 scenario.flight.replicates, options.part->of, scenario.flight.replicates));
}

}  // namespace

std::optional<flight::Plan> ready_flight(const scenario::Scenario& scenario, const std::filesystem::path& out,
                                         int threads, const store::Run& run, const std::stop_token& stop) {
  std::optional<maps::DriveState> drive;
  std::optional<maps::AirState> air;
  const auto made = parallel::run_blocks(
      2, threads,
      [&](std::size_t i) {
        if (i == 0) {
          drive = maps::make_drive(scenario, out / "coil.h5");
        } else {
          air = maps::make_air(scenario, out / "air.h5");
        }
      },
      stop);
  if (made == parallel::Outcome::stopped) return std::nullopt;
  auto plan = flight::make_plan(scenario, std::move(*air), std::move(*drive));
  if (flight::solve_all(plan.families, threads, stop) == parallel::Outcome::stopped) return std::nullopt;
  maps::write_coils(plan.drive, scenario, version, out / "coil.h5", run);
  maps::write_air(plan.air, scenario, version, out / "air.h5", run);
  return plan;
}

void end_flight(const Options& options, const scenario::Scenario& scenario, const flight::Plan& plan,
                const flight::CampaignResult& campaign, const std::filesystem::path& file,
                const std::filesystem::path& out, const store::Run& run, const std::stop_token& stop,
                ProgressLine& progress) {
  auto summary = results::summarise(plan, campaign);
  if (!campaign.part && !campaign.interrupted)
    flight::check_lost(results::lost_count(summary), plan.clock.step, scenario.flight.lost_limit);
  if (scenario.tuned && !campaign.part && !campaign.interrupted) {
    // As many replicates as say what a parameter does, which their common random numbers show early.
    constexpr int most = 128;
    const int replicates = std::min(most, static_cast<int>(campaign.replicates.size()));
    progress.say(fmt::format("flying {} replicates beside the tuned values", replicates));
    const auto instructions = options.instructions.value_or(flight::available_instruction_sets().back());
    if (const auto widths =
            tune::parameter_widths(scenario, file, {replicates, threads_of(options), instructions}, stop))
      results::add(*widths, summary);
    else
      progress.say("interrupted: the results are without the parameters' share; fly again for it");
  }
  const auto told = [&](const std::string& text, const std::string& made) {
    if (options.form == Form::json) {
      print_result(results::summary_json(summary, scenario, version));
      progress.say(made);
    } else {
      print_result(text + "\n" + made + "\n");
    }
  };
  if (campaign.part) {
    results::write_flight(out / "flight.h5", summary, campaign, scenario, nullptr, version, run);
    return told(
        fmt::format("Part {} of {}\n", campaign.part->number, campaign.part->of) + duty_table(summary),
        "to be joined: " + (out / "flight.h5").string());
  }
  auto setting = report::make_setting(scenario, plan, sheet::make_sheet(scenario, plan));
  setting.parameters = summary.parameters;
  results::write_results(out, summary, campaign, scenario, setting, version, run);
  const auto report = out / "report.html";
  const store::Origin origin{version, scenario.text, scenario.hash, scenario.flight.seed};
  store::write_text_atomically(report, report::render_report(setting, campaign, origin));
  told(duty_table(summary) + parameters(summary) + missed_target(scenario, summary) + differences(summary) +
           coupling_shifts(summary) + energy_line(summary) + listed(report::all_cautions(setting, summary)),
       "report: " + report.string());
}

ExitStatus run_fly(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto scenario = scenario_of(options);
  check_part(options, scenario);
  const auto out = out_of(options, scenario);
  const int threads = threads_of(options);
  const auto run = store::start_run(threads);
  ProgressLine progress(options.talk);
  const auto instructions = options.instructions.value_or(flight::available_instruction_sets().back());
  const results::FlightIdentity identity{scenario, version, std::string(flight::arithmetic(instructions)),
                                         options.part};
  if (options.start == Start::resume && is_whole(out, identity)) {
    print_whole(options, out, progress);
    return ExitStatus::done;
  }
  const OutFolder folder(out);
  results::KeptReplicates keeper(out, identity, run);
  settle_kept(options, out, keeper, progress);

  progress.say(fmt::format("{}: coil map, air and receivers", scenario.name));
  const auto ready = ready_flight(scenario, out, threads, run, watch.token());
  const auto stopped = [&] {
    if (keeper.count() == 0) keeper.remove();
    progress.say("interrupted before a replicate was finished; no results were written");
    return ExitStatus::interrupted;
  };
  if (!ready) return stopped();
  const auto& plan = *ready;
  const auto outline = results::outline(plan);

  const auto& wanted = scenario.flight;
  const auto range = flight::range_of(options.part, wanted.replicates);
  progress.say(fmt::format("flying {}{} replicates of {} tags on {} thread{}",
                           wanted.target_interval ? "up to " : "", range.end - range.first, plan.tags,
                           threads, threads == 1 ? "" : "s"));
  progress.begin();
  keeper.begin();
  const auto fly = [&] {
    try {
      return flight::fly_campaign(
          plan,
          {wanted.replicates, wanted.target_interval, threads, instructions, options.part, wanted.lost_limit},
          watch.token(), [&](const flight::Progress& so_far) { progress.show(so_far); }, keeper.load(outline),
          [&](int first, std::span<const flight::ReplicateResult> results) {
            keeper.add(outline, first, results);
          });
    } catch (...) {
      keep_finished(keeper, outline, progress);
      throw;
    }
  };
  const auto campaign = fly();
  if (campaign.interrupted) keeper.flush(outline);
  if (campaign.replicates.empty()) return stopped();

  if (campaign.tag_steps > 0)
    progress.say(fmt::format("{:.1f} ns per tag-step and core ({}), {:.2f} s of core time to build the tags",
                             1e9 * campaign.timing.flight / static_cast<double>(campaign.tag_steps),
                             flight::name(instructions), campaign.timing.build));
  end_flight(options, scenario, plan, campaign, options.scenario, out, run, watch.token(), progress);
  if (!campaign.interrupted) {
    keeper.remove();
    return ExitStatus::done;
  }
  progress.say(fmt::format("interrupted: the results are of the {} finished replicates; go on with --resume",
                           campaign.replicates.size()));
  return ExitStatus::interrupted;
}

}  // namespace driftglow::program
