#include <CLI/CLI.hpp>
#include <algorithm>
#include <csignal>
#include <cstdio>
#include <filesystem>
#include <functional>
#include <limits>
#include <new>
#include <string>

#include "models/error.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/job_array.hpp"

namespace {

using namespace driftglow;
using program::ExitStatus;

void complain(const std::string& sentence) {
  std::fputs((sentence + "\n").c_str(), stderr);
}

// The one place where an error becomes a sentence and an exit status.
int guarded(const std::function<int()>& action) {
  try {
    return action();
  } catch (const InputError& error) {
    complain(error.what());
    return ExitStatus::wrong_input;
  } catch (const std::bad_alloc&) {
    complain(
        "driftglow: the machine has not enough memory for this scenario; take fewer tags, replicates or "
        "traces");
  } catch (const std::filesystem::filesystem_error& error) {
    complain(std::string("driftglow: ") + error.path1().string() + ": " + error.code().message());
  } catch (const std::exception& error) {
    complain(std::string("driftglow: ") + error.what());
  } catch (...) {
    complain("driftglow: stopped by a failure that does not tell its cause");
  }
  return ExitStatus::failure_of_ours;
}

// Without the range in the help text, where it would break the line.
CLI::Validator whole_number_to(int most) {
  return CLI::Range(1, most).description("");
}

class PlainOptions : public CLI::Formatter {
 public:
  // CLI11 prints "TEXT:PATH" and the like; the options here say it in words.
  std::string make_option_opts(const CLI::Option* option) const override {
    return option->get_type_size() == 0 ? "" : " " + option->get_type_name();
  }
};

flight::InstructionSet set_named(const std::string& given) {
  std::string all;
  for (const auto set : flight::available_instruction_sets()) {
    if (given == flight::name(set)) return set;
    all += (all.empty() ? "" : ", ") + std::string(flight::name(set));
  }
  throw InputError("driftglow: --instructions: this machine has no set `" + given + "`; expected one of " +
                   all);
}

flight::Part part_named(const std::string& given) {
  const auto whole = [](const std::string& text) {
    const bool digits = !text.empty() && text.size() <= 6 &&
                        std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
    return digits ? std::stoi(text) : 0;
  };
  const auto slash = given.find('/');
  if (slash != std::string::npos) {
    const flight::Part part{whole(given.substr(0, slash)), whole(given.substr(slash + 1))};
    if (part.number >= 1 && part.number <= part.of) return part;
  }
  throw InputError("driftglow: --part: `" + given +
                   "` is no part; expected K/N such as 2/4, the second of four parts");
}

program::OnlyTag only_named(const std::string& given) {
  const auto whole = [](const std::string& text) {
    const bool digits = !text.empty() && text.size() <= 7 &&
                        std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
    return digits ? std::stoi(text) : -1;
  };
  const auto colon = given.find(':');
  if (colon != std::string::npos) {
    const program::OnlyTag only{whole(given.substr(0, colon)), whole(given.substr(colon + 1))};
    if (only.replicate >= 0 && only.tag >= 0) return only;
  }
  throw InputError("driftglow: --only: `" + given +
                   "` is no tag; expected REPLICATE:TAG such as 3:11, both counted from 0");
}

void add_scenario(CLI::App& command, program::Options& options) {
  command.add_option("SCENARIO", options.scenario, "scenario file (YAML)")->required()->type_name("");
}

void add_common(CLI::App& command, program::Options& options) {
  command.add_option("--out", options.out, "folder for the files (default out/<scenario name>)")
      ->type_name("DIR");
  command.add_option("--threads", options.threads, "threads to fly on (default all)")
      ->type_name("N")
      ->check(whole_number_to(4096));
  command.add_flag_callback(
      "--quiet", [&] { options.talk = program::Talk::quiet; }, "no progress on standard error");
  command.add_flag_callback(
      "--json", [&] { options.form = program::Form::json; }, "one JSON document on standard output");
}

void add_seed(CLI::App& command, program::Options& options) {
  command.add_option("--seed", options.seed, "seed instead of the scenario's")->type_name("N");
}

void add_start(CLI::App& command, program::Options& options) {
  command.add_flag_callback(
      "--resume", [&] { options.start = program::Start::resume; },
      "go on with a run that was interrupted or killed");
  command
      .add_option_function<std::string>(
          "--part", [&](const std::string& given) { options.part = part_named(given); },
          "only part K of N, to be joined")
      ->type_name("K/N");
  command
      .add_option("--slurm", options.slurm_parts, "print a script that flies N parts as a Slurm job array")
      ->type_name("N")
      ->check(whole_number_to(10000));
}

void add_instructions(CLI::App& command, program::Options& options) {
  command
      .add_option_function<std::string>(
          "--instructions", [&](const std::string& given) { options.instructions = set_named(given); },
          "arithmetic: scalar, baseline, avx2, avx512 (default: the fastest here)")
      ->type_name("SET");
}

int run(int argc, char** argv) {
  CLI::App app(
      "driftglow: how often and how brightly tags glow that drift through a coil's field in an air column.\n"
      "Results are estimates for planning, no proof of safety: local rules decide.",
      "driftglow");
  app.formatter(std::make_shared<PlainOptions>());
  app.set_version_flag("--version", std::string("driftglow ") + program::version);
  app.require_subcommand(1);
  app.footer(
      "Example: driftglow fly configs/plankton_column.yaml\n"
      "Every command has --help. Exit status: 0 done, 1 failure of ours, 2 wrong input, 130 interrupted.");

  program::Options options;
  auto* sheet = app.add_subcommand("sheet", "design sheet: all that needs no flight");
  add_scenario(*sheet, options);
  add_common(*sheet, options);
  add_seed(*sheet, options);
  sheet->footer("Example: driftglow sheet configs/plankton_column.yaml");

  auto* map = app.add_subcommand("map", "coil map and air map: coil.h5, air.h5");
  add_scenario(*map, options);
  add_common(*map, options);
  add_seed(*map, options);
  map->footer("Example: driftglow map configs/plankton_column.yaml --out out/maps");

  auto* fly =
      app.add_subcommand("fly", "Monte-Carlo flight: flight.h5, summary.csv, summary.json, report.html");
  add_scenario(*fly, options);
  add_common(*fly, options);
  add_seed(*fly, options);
  add_start(*fly, options);
  fly->add_option("--replicates", options.replicates, "replicates to fly instead of the scenario's")
      ->type_name("N")
      ->check(whole_number_to(1000000));
  add_instructions(*fly, options);
  auto* only = fly->add_option_function<std::string>(
                      "--only", [&](const std::string& given) { options.only = only_named(given); },
                      "one tag of one replicate, as in the whole flight; no results")
                   ->type_name("R:T");
  fly->add_flag_callback(
         "--trace", [&] { options.path = program::Path::traced; }, "with --only: its path as path_R_T.csv")
      ->needs(only);
  for (const char* other : {"--resume", "--part", "--slurm", "--replicates"})
    only->excludes(fly->get_option(other));
  fly->footer("Example: driftglow fly configs/plankton_column.yaml --replicates 8 --seed 7");

  auto* vary =
      app.add_subcommand("vary", "many designs around one scenario: study.h5, .csv, .json, report.html");
  vary->add_option("STUDY", options.scenario, "study file (YAML)")->required()->type_name("");
  add_common(*vary, options);
  add_seed(*vary, options);
  add_start(*vary, options);
  add_instructions(*vary, options);
  vary->add_flag_callback(
      "--plan", [&] { options.work = program::Work::list; }, "list and check the designs, fly nothing");
  vary->footer("Example: driftglow vary configs/studies/coil_spacing.yaml");

  auto* tune =
      app.add_subcommand("tune", "what bench readings say of uncertain values; the tuned scenario");
  add_scenario(*tune, options);
  tune->add_option("READINGS", options.readings, "readings file (YAML)")->required()->type_name("");
  add_common(*tune, options);
  add_seed(*tune, options);
  add_instructions(*tune, options);
  tune->footer(
      "Example: driftglow tune configs/plankton_column.yaml configs/readings/plankton_bench.yaml\n"
      "Then: driftglow fly out/plankton_column/plankton_column_tuned.yaml");

  program::ShowOptions shown;
  auto* show = app.add_subcommand("show", "report again from a finished flight or study: report.html");
  show->add_option("FLIGHT", shown.flight, "flight.h5, study.h5, or the folder that holds it")
      ->required()
      ->type_name("");
  show->add_option("--out", shown.out, "folder for the files (default where the flight is)")
      ->type_name("DIR");
  show->add_flag_callback(
      "--csv", [&] { shown.tables = program::Tables::csv; },
      "also the numbers of every chart, in the folder csv (below)");
  show->add_flag_callback(
      "--quiet", [&] { shown.talk = program::Talk::quiet; }, "no progress on standard error");
  show->add_flag_callback(
      "--json", [&] { shown.form = program::Form::json; }, "one JSON document on standard output");
  show->footer(
      "Tables of --csv, SI: duty, lit_at_once, longest_dark, light_by_colour, spells, pinned,\n"
      "glow_by_place, field, air; of a study ranking, pareto, main_effects, sobol_indices.\n"
      "Example: driftglow show out/plankton_column/flight.h5 --csv");

  auto* join = app.add_subcommand("join", "parts of one flight or study, flown by --part, into one result");
  join->add_option("PART", options.parts, "each part's flight.h5 or study.h5, or its folder")
      ->required()
      ->type_name("");
  add_common(*join, options);
  join->footer("Example: driftglow join out/plankton_column/part_*_of_4");

  auto* keys = app.add_subcommand(
      "keys", "every key of scenario, study, readings: unit, range, default, meaning");
  auto form = program::KeysForm::text;
  keys->add_flag_callback(
      "--json-schema", [&] { form = program::KeysForm::schema; },
      "of scenarios as a JSON schema, for editors");
  keys->add_flag_callback(
      "--study-json-schema", [&] { form = program::KeysForm::study_schema; }, "the same of studies");
  keys->add_flag_callback(
      "--readings-json-schema", [&] { form = program::KeysForm::bench_schema; }, "the same of readings");
  keys->footer("Example: driftglow keys --json-schema > scenario.schema.json");

  const auto named =
      app.get_subcommands([&](const CLI::App* command) { return argc > 1 && command->check_name(argv[1]); });
  if (argc > 1 && argv[1][0] != '-' && named.empty()) {
    throw InputError(std::string("driftglow: there is no command `") + argv[1] +
                     "`; commands are sheet, map, fly, vary, tune, show, join and keys");
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (error.get_exit_code() == static_cast<int>(CLI::ExitCodes::Success)) return app.exit(error);
    throw InputError(std::string("driftglow: ") + error.what() + "; `driftglow --help` shows what is right");
  }
  if (sheet->parsed()) return program::run_sheet(options);
  if (map->parsed()) return program::run_map(options);
  if (fly->parsed())
    return options.slurm_parts ? program::print_job_array(options, "fly")
           : options.only      ? program::run_only(options)
                               : program::run_fly(options);
  if (vary->parsed())
    return options.slurm_parts ? program::print_job_array(options, "vary") : program::run_vary(options);
  if (tune->parsed()) return program::run_tune(options);
  if (show->parsed()) return program::run_show(shown);
  if (join->parsed()) return program::run_join(options);
  return program::run_keys(form);
}

}  // namespace

int main(int argc, char** argv) {
  // A file-size limit then is a failed write, told in a sentence, and not a killed program.
  std::signal(SIGXFSZ, SIG_IGN);
  return guarded([&] { return run(argc, argv); });
}
