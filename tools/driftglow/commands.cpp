#include "tools/driftglow/commands.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "models/error.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/parallel/pool.hpp"
#include "sim/scenario/keys.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sheet/design_sheet.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tools/driftglow/out_folder.hpp"
#include "tools/driftglow/progress.hpp"

namespace driftglow::program {

void print_result(const std::string& text) {
  const bool written = std::fwrite(text.data(), 1, text.size(), stdout) == text.size();
  if (!written || std::fflush(stdout) != 0)
    throw LogicError("the result could not be written to standard output");
}

scenario::Scenario scenario_of(const Options& options) {
  auto scenario = scenario::read_scenario(options.scenario);
  if (options.seed) scenario.flight.seed = *options.seed;
  if (options.replicates) {
    scenario.flight.replicates = *options.replicates;
    scenario.flight.target_interval.reset();
  }
  return scenario;
}

std::filesystem::path out_of(const Options& options, const scenario::Scenario& scenario) {
  auto own = std::filesystem::path("out") / scenario.name;
  if (options.part) own /= fmt::format("part_{}_of_{}", options.part->number, options.part->of);
  return options.out.value_or(std::move(own));
}

int threads_of(const Options& options) {
  return options.threads.value_or(parallel::available_threads());
}

ExitStatus run_sheet(const Options& options) {
  const auto scenario = scenario_of(options);
  auto air = maps::make_air(scenario, out_of(options, scenario) / "air.h5");
  auto drive = maps::make_drive(scenario, out_of(options, scenario) / "coil.h5");
  const auto plan = flight::make_plan(scenario, std::move(air), std::move(drive));
  auto made = sheet::make_sheet(scenario, plan);
  made.air_part.variants = sheet::air_variants(scenario, plan, made.designs);
  print_result(options.form == Form::json ? sheet::sheet_json(made).dump(2) + "\n" : sheet::sheet_text(made));
  return ExitStatus::done;
}

ExitStatus run_map(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto scenario = scenario_of(options);
  const auto out = out_of(options, scenario);
  const auto run = store::start_run(1);
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  progress.say("computing the coil map and the air map");

  nlohmann::ordered_json json;
  std::string text;
  const auto drive = maps::make_drive(scenario, out / "coil.h5");
  const auto say_map = [&](maps::MapOrigin made, const std::vector<std::pair<const char*, int>>& nodes,
                           double error) {
    const char* origin = made == maps::MapOrigin::reused ? "reused" : "computed";
    json["coil_map"] = {{"file", (out / "coil.h5").string()}, {"origin", origin}};
    std::string size;
    for (const auto& [axis, count] : nodes) {
      json["coil_map"][std::string(axis) + "_nodes"] = count;
      size += (size.empty() ? "" : " x ") + std::to_string(count);
    }
    json["coil_map"]["interpolation_error"] = error;
    text += fmt::format("coil map {}: {} nodes, error {:.1e} of |B|: {}\n", origin, size, error,
                        (out / "coil.h5").string());
  };
  if (const auto* coils = std::get_if<maps::CoilState>(&drive.field)) {
    say_map(coils->origin, {{"r", coils->map.r().nodes}, {"z", coils->map.z().nodes}}, coils->map.error());
  } else if (const auto* system = std::get_if<maps::SystemState>(&drive.field)) {
    const auto& [x, y, z] = system->map.axes();
    say_map(system->origin, {{"x", x.nodes}, {"y", y.nodes}, {"z", z.nodes}}, system->map.error());
  } else if (const auto* measured = std::get_if<maps::MeasuredState>(&drive.field)) {
    const auto& fit = measured->fit;
    json["coil_map"] = {{"origin", "measured"}, {"readings", fit.readings}, {"misfit", fit.misfit}};
    text += fmt::format("coil map: of {} readings, which miss the nearest magnetic field by {:.1f} % rms\n",
                        fit.readings, 100.0 * fit.misfit);
  } else {
    json["coil_map"] = nullptr;
    text += "coil map: none, the field is uniform\n";
  }
  if (watch.interrupted()) return ExitStatus::interrupted;
  maps::write_coils(drive, scenario, version, out / "coil.h5", run);

  const auto air = maps::make_air(scenario, out / "air.h5");
  if (watch.interrupted()) return ExitStatus::interrupted;
  maps::write_air(air, scenario, version, out / "air.h5", run);
  const auto* solved = std::get_if<maps::SolvedSource>(&air.source);
  const char* origin = solved && solved->origin == maps::MapOrigin::reused ? "reused" : "computed";
  json["air_map"] = {{"file", (out / "air.h5").string()},
                     {"origin", origin},
                     {"velocity_error", air.map.error().velocity},
                     {"sigma_error", air.map.error().sigma}};
  text += fmt::format("air map {}: {} x {} nodes, error {:.1e} of the {} speed: {}\n", origin,
                      air.map.s_nodes(), air.map.z_nodes(), air.map.error().velocity,
                      solved ? "rms" : "largest", (out / "air.h5").string());
  print_result(options.form == Form::json ? json.dump(2) + "\n" : text);
  return ExitStatus::done;
}

ExitStatus run_keys(KeysForm form) {
  switch (form) {
    case KeysForm::text:
      print_result(scenario::keys_text());
      break;
    case KeysForm::schema:
      print_result(scenario::keys_json_schema().dump(2) + "\n");
      break;
    case KeysForm::study_schema:
      print_result(scenario::study_keys_json_schema().dump(2) + "\n");
      break;
    case KeysForm::bench_schema:
      print_result(scenario::bench_keys_json_schema().dump(2) + "\n");
      break;
  }
  return ExitStatus::done;
}

}  // namespace driftglow::program
