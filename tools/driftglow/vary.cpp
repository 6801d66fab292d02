#include "tools/driftglow/vary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>

#include "models/error.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/study/analysis.hpp"
#include "sim/study/kept_pieces.hpp"
#include "sim/study/reader.hpp"
#include "tools/driftglow/aligned.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/out_folder.hpp"
#include "tools/report/study_report.hpp"

namespace driftglow::program {
namespace {

using study::Study;
using study::Table;

constexpr int most_rows = 40;

std::filesystem::path study_out(const Options& options, const Study& study) {
  auto own = std::filesystem::path("out") / study.name;
  if (options.part) own /= fmt::format("part_{}_of_{}", options.part->number, options.part->of);
  return options.out.value_or(std::move(own));
}

std::string with_width(const statistics::Estimate& estimate) {
  if (std::isnan(estimate.mean)) return "none";
  if (estimate.half_width == 0.0) return fmt::format("{:.4g}", estimate.mean);
  return fmt::format("{:.4g} +- {:.2g}", estimate.mean, estimate.half_width);
}

// A difference of the best and another design, so that it is positive.
statistics::Estimate behind(const study::Goal& goal, statistics::Estimate difference) {
  if (goal.want == study::Want::least) difference.mean = -difference.mean;
  return difference;
}

std::string limits_text(const Study& study) {
  std::string text;
  for (const auto& limit : study.limits) {
    const auto& name = study.outputs[limit.output].name;
    if (limit.least) text += fmt::format("{}{} >= {}", text.empty() ? "" : ", ", name, *limit.least);
    if (limit.most) text += fmt::format("{}{} <= {}", text.empty() ? "" : ", ", name, *limit.most);
  }
  return text.empty() ? text : "; limits: " + text;
}

std::string ranked_table(const Study& study, const Table& table, const study::Ranking& ranking) {
  const auto& goal = study.goals.front();
  std::string text = fmt::format("Ranked by {} ({} first){}; 95 % intervals over replicates\n\n",
                                 study.outputs[goal.output].name,
                                 goal.want == study::Want::most ? "most" : "least", limits_text(study));
  std::map<std::pair<int, int>, const study::Comparison*> comparisons;
  for (const auto& comparison : ranking.comparisons)
    comparisons[{comparison.first, comparison.second}] = &comparison;
  const auto& order = ranking.order;
  std::vector<std::vector<std::string>> rows{{"rank", "design"}};
  for (const auto& variable : study.variables) rows[0].push_back(variable.name);
  for (const auto& output : study.outputs) rows[0].push_back(output.name);
  for (const char* head : {"flown", "behind the best by", "distinct from the best", "from the next"})
    rows[0].emplace_back(head);
  const auto told = [&](int a, int b) -> std::string {
    const auto found = comparisons.find({a, b});
    return found == comparisons.end() ? "" : found->second->distinct ? "yes" : "no";
  };
  const bool none = order.empty();
  const auto& listed = none ? ranking.outside : order;
  if (none) text += "No design keeps the limits. By the goal alone:\n\n";
  for (std::size_t i = 0; i < std::min<std::size_t>(listed.size(), most_rows); ++i) {
    const int design = listed[i];
    const auto& result = table.results[design];
    std::vector<std::string> row{none ? "none" : std::to_string(i + 1), std::to_string(design)};
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      row.push_back(study.shown(k, table.designs[design][k]));
    for (std::size_t o = 0; o < study.outputs.size(); ++o)
      row.push_back(with_width(study::estimate_of(study, result, o)));
    row.push_back(std::to_string(result.replicates));
    const auto found = comparisons.find({listed.front(), design});
    row.push_back(found == comparisons.end() ? "" : with_width(behind(goal, found->second->paired)));
    row.push_back(i == 0 ? "" : told(listed.front(), design));
    row.push_back(i + 1 < listed.size() ? told(design, listed[i + 1]) : "");
    rows.push_back(std::move(row));
  }
  text += aligned(rows);
  if (listed.size() > most_rows)
    text += fmt::format("... and {} more, in study.csv\n", listed.size() - most_rows);
  if (!none)
    text += fmt::format(
        "\nDistinct: paired differences on the replicates that both flew, Student's t, {}'s correction over "
        "all "
        "pairs{}, at 5 % together.\n",
        ranking.correction,
        ranking.looks > 1 ? fmt::format(" and Bonferroni's over {} looks", ranking.looks) : "");
  if (!none && !ranking.outside.empty())
    text += fmt::format("{} more design{} break a limit and take no rank.\n", ranking.outside.size(),
                        ranking.outside.size() == 1 ? "" : "s");
  const auto cannot = [](const auto& result) { return !result.refused.empty(); };
  const auto refused = std::count_if(table.results.begin(), table.results.end(), cannot);
  const auto first = std::find_if(table.results.begin(), table.results.end(), cannot);
  if (refused > 0)
    text += fmt::format("{} design{} cannot be built; study.csv says why. The first, design {}: {}\n",
                        refused, refused == 1 ? "" : "s", first - table.results.begin(), first->refused);
  return text;
}

std::string pareto_text(const Study& study, const Table& table, const study::Ranking& ranking) {
  if (study.goals.size() < 2) return "";
  std::string text = fmt::format("\nPareto set of {} and {}\n", study.outputs[study.goals[0].output].name,
                                 study.outputs[study.goals[1].output].name);
  for (const int design : study::pareto_set(study, table, ranking.order)) {
    text += fmt::format("- design {}:", design);
    for (const auto& goal : study.goals)
      text += fmt::format(" {} {}", study.outputs[goal.output].name,
                          with_width(study::estimate_of(study, table.results[design], goal.output)));
    text += "\n";
  }
  return text;
}

// Three digits, without a sign where they are all nil.
std::string share(double value) {
  return fmt::format("{:.3f}", std::round(1e3 * value) * 1e-3 + 0.0);
}

std::string indices_text(const Study& study, const Table& table) {
  const auto indices = study::sobol_indices(study, table);
  if (indices.empty()) return "";
  std::string text =
      "\nSobol' indices: share of the variance over the designs, with bootstrap intervals (95 %)\n\n";
  std::vector<std::vector<std::string>> rows{{"output", "varied", "first order", "", "total", ""}};
  for (std::size_t o = 0; o < indices.size(); ++o) {
    for (std::size_t k = 0; k < indices[o].size(); ++k) {
      const auto& index = indices[o][k];
      rows.push_back({study.outputs[o].name, study.variables[k].name, share(index.value.first),
                      share(index.first.low) + " ... " + share(index.first.high), share(index.value.total),
                      share(index.total.low) + " ... " + share(index.total.high)});
    }
  }
  return text + aligned(rows);
}

void check_part(const Options& options, const Study& study, std::size_t designs) {
  if (!options.part) return;
  const auto refuse = [](const std::string& what) { throw InputError("driftglow: --part: " + what); };
  if (study.kind == study::DesignKind::search)
    refuse(
        "a search goes on from what it found and cannot be cut into parts; take a sample (design.kind: "
        "sobol)");
  if (study.flights.spend == study::Spend::ranks)
    refuse("`flights.spend: ranks` looks at all designs; give `spend: all`");
  if (static_cast<std::size_t>(options.part->of) > designs)
    refuse(fmt::format("{} designs do not make {} parts; expected at most {}", designs, options.part->of,
                       designs));
}

// What makes no scenario is counted, not kept.
ExitStatus list_plan(const Options& options, const Study& study) {
  const auto designs = study.planned();
  std::size_t refused = 0;
  std::string first_fault, rows;
  for (std::size_t i = 0; i < designs.size(); ++i) {
    try {
      study.scenario_at(designs[i]);
    } catch (const InputError& error) {
      if (refused++ == 0) first_fault = error.what();
    }
    if (i >= most_rows) continue;
    rows += fmt::format("{:>6}", i);
    for (std::size_t k = 0; k < study.variables.size(); ++k)
      rows += fmt::format("{} {} = {}", k == 0 ? " " : ",", study.variables[k].name,
                          study.shown(k, designs[i][k]));
    rows += "\n";
  }
  if (options.form == Form::json) {
    nlohmann::ordered_json json{{"designs", designs.size()},
                                {"refused", refused},
                                {"replicates_each", study.flights.replicates},
                                {"replicates_most_each", study.flights.most}};
    print_result(json.dump(2) + "\n");
    return ExitStatus::done;
  }
  std::string text = fmt::format(
      "{} designs, each of {} replicates and up to {}\n", designs.size(), study.flights.replicates,
      study.flights.target_interval || study.flights.spend == study::Spend::ranks ? study.flights.most
                                                                                  : study.flights.replicates);
  if (refused > 0) text += fmt::format("{} of them make no scenario; the first: {}\n", refused, first_fault);
  text += rows;
  if (designs.size() > most_rows) text += fmt::format("... and {} more\n", designs.size() - most_rows);
  print_result(text);
  return ExitStatus::done;
}

bool is_whole(const std::filesystem::path& out, const study::Identity& identity) {
  const auto path = out / "study.h5";
  if (!std::filesystem::exists(path) || std::filesystem::exists(study::KeptPieces::folder_in(out)))
    return false;
  const store::Reader file(path, "remove it, or name another folder with --out");
  const auto differs = study::what_differs(file, identity);
  file.expect(!differs, "is of another study: " + differs.value_or(""));
  const auto head = results::read_head(file);
  file.expect(head.part == identity.part, "is of another part of the study");
  return !head.interrupted;
}

void settle_kept(const Options& options, const std::filesystem::path& out, const study::KeptPieces& kept,
                 ProgressLine& progress) {
  if (!kept.any()) return kept.remove();
  const auto differs = kept.what_differs();
  if (options.start == Start::resume) {
    if (differs)
      throw InputError(fmt::format(
          "{}: the unfinished study there is another one: {}; expected the same, or another folder by --out",
          out.string(), *differs));
    return progress.say("going on with what is finished");
  }
  if (!differs)
    throw InputError(
        fmt::format("{}: holds finished designs of this study; go on with --resume, or remove {} to "
                    "fly it anew",
                    out.string(), study::KeptPieces::folder_in(out).string()));
  progress.say("dropping what is finished of an unfinished study that was another one: " + *differs);
  kept.remove();
}

}  // namespace

void end_study(const Options& options, const study::Identity& identity, const Table& table,
               const std::filesystem::path& out, const store::Run& run, ProgressLine& progress) {
  const Study& study = identity.study;
  if (identity.part) {
    study::write_study_file(out / "study.h5", identity, table, run);
    const std::string file = (out / "study.h5").string();
    if (options.form == Form::json) {
      print_result(nlohmann::ordered_json{{"part", identity.part->number},
                                          {"of", identity.part->of},
                                          {"designs", table.range.end - table.range.first}}
                       .dump(2) +
                   "\n");
    } else {
      print_result(fmt::format("Part {} of {}: designs {} to {}\nto be joined: {}\n", identity.part->number,
                               identity.part->of, table.range.first, table.range.end - 1, file));
    }
    return;
  }
  study::write_study(out, identity, table, run);
  const auto report = out / "report.html";
  store::write_text_atomically(report, report::render_study(study, table, version));
  if (options.form == Form::json) {
    print_result(study::study_document(study, table, version).dump(2) + "\n");
    return progress.say("report: " + report.string());
  }
  const auto ranking = study::rank(study, table);
  print_result(report::study_verdict(study, table) + "\n" + indices_text(study, table) +
               pareto_text(study, table, ranking) + "\n" + ranked_table(study, table, ranking) +
               "\nreport: " + report.string() + "\n");
}

ExitStatus run_vary(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto study = study::read_study(options.scenario, options.seed);
  if (options.work == Work::list) return list_plan(options, study);
  check_part(options, study, options.part ? study.planned().size() : 0);
  const auto out = study_out(options, study);
  const int threads = threads_of(options);
  const auto run = store::start_run(threads);
  ProgressLine progress(options.talk, ProgressLine::Rate::replicates);
  const auto instructions = options.instructions.value_or(flight::available_instruction_sets().back());
  const study::Identity identity{study, version, std::string(flight::arithmetic(instructions)), options.part};
  if (options.start == Start::resume && is_whole(out, identity)) {
    progress.say(fmt::format("{}: this study is finished; nothing was touched", out.string()));
    if (options.form == Form::json && std::filesystem::exists(out / "study.json")) {
      std::ifstream stream(out / "study.json", std::ios::binary);
      print_result({std::istreambuf_iterator<char>(stream), {}});
    }
    return ExitStatus::done;
  }
  const OutFolder folder(out);
  study::KeptPieces keeper(out, identity, run);
  settle_kept(options, out, keeper, progress);
  keeper.begin();
  progress.say(fmt::format("{}: flying on {} thread{}", study.name, threads, threads == 1 ? "" : "s"));
  progress.begin();
  study::Table table;
  try {
    table = study::run(study, {threads, instructions, options.part, version}, watch.token(),
                       {[&](const flight::Progress& so_far) { progress.show(so_far); },
                        [&](const study::Piece& piece) { keeper.add(piece); }},
                       keeper.load());
  } catch (...) {
    // A second failure must not hide the first.
    try {
      keeper.flush();
      if (!keeper.any()) keeper.remove();
    } catch (const std::exception& error) {
      progress.say(error.what());
    }
    throw;
  }
  if (table.interrupted) {
    keeper.flush();
    if (!keeper.any()) keeper.remove();
    progress.say("interrupted; go on with --resume");
    return ExitStatus::interrupted;
  }
  end_study(options, identity, table, out, run, progress);
  keeper.remove();
  return ExitStatus::done;
}

}  // namespace driftglow::program
