#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "models/error.hpp"
#include "sim/parallel/interrupt.hpp"
#include "sim/results/files.hpp"
#include "sim/store/atomic_file.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/fly.hpp"
#include "tools/driftglow/out_folder.hpp"

// `fly --only`: one tag on the path that it has in the whole flight, with all others around it.
namespace driftglow::program {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* columns =
    "time_s,x_m,y_m,z_m,v_x_m_per_s,v_y_m_per_s,v_z_m_per_s,axis_x,axis_y,axis_z,spin_x_rad_per_s,spin_y_rad_"
    "per_s,spin_z_rad_per_s,linkage_{}";

// What is no number stands as an empty field.
std::string field(double value) {
  return std::isfinite(value) ? fmt::format(",{}", value) : ",";
}

std::string row(const flight::TagMoment& moment, int fits) {
  std::string text = fmt::format("{:.9g}", moment.time);
  for (const auto& v : {moment.place, moment.velocity, moment.axis, moment.spin_W})
    text += field(v.x) + field(v.y) + field(v.z);
  text += field(moment.linkage);
  for (int f = 0; f < fits; ++f)
    text += moment.time > 0.0 ? fmt::format(",{}", (moment.lit >> f) & 1U) : std::string(",");
  return text + "\n";
}

std::string header(const flight::DesignPlan& design) {
  std::string text = fmt::format(columns, design.threshold ? "T" : "Wb");
  for (const auto& fit : design.fits) text += "," + results::csv_field("lit " + fit);
  return text + "\n";
}

const flight::DesignPlan& design_of(const flight::Plan& plan, int tag) {
  std::size_t d = 0;
  while (tag >= plan.designs[d].first_tag + plan.designs[d].count) ++d;
  return plan.designs[d];
}

void check(const OnlyTag& only, const scenario::Scenario& scenario) {
  int tags = 0;
  for (const auto& design : scenario.tags) tags += design.count;
  const int replicates = scenario.flight.replicates;
  if (only.replicate >= replicates || only.tag >= tags)
    throw InputError(fmt::format(
        "driftglow: --only: there is no {}:{}; expected a replicate from 0 to {} and a tag from 0 to {}",
        only.replicate, only.tag, replicates - 1, tags - 1));
}

}  // namespace

ExitStatus run_only(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto scenario = scenario_of(options);
  const auto [replicate, tag] = options.only.value();
  check(*options.only, scenario);
  const auto out = out_of(options, scenario);
  const int threads = threads_of(options);
  const auto run = store::start_run(threads);
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  progress.say(fmt::format("{}: coil map, air and receivers", scenario.name));
  const auto plan = ready_flight(scenario, out, threads, run, watch.token());
  if (!plan) return ExitStatus::interrupted;
  const auto& design = design_of(*plan, tag);
  progress.say(fmt::format("flying replicate {} with all its {} tags", replicate, plan->tags));
  std::string path = header(design);
  const auto flown = flight::fly_tag(
      *plan, options.instructions.value_or(flight::available_instruction_sets().back()), replicate, tag,
      [&](const flight::TagMoment& moment) {
        if (options.path == Path::traced) path += row(moment, design.fit_count());
      },
      watch.token());
  if (!flown) return ExitStatus::interrupted;

  const auto name = fmt::format("{} {}", design.name, tag - design.first_tag);
  Json json{{"replicate", replicate}, {"tag", tag}, {"tag_design", design.name}, {"fits", Json::array()}};
  std::string text = fmt::format("Tag {} of replicate {} ({})\n", tag, replicate, name);
  const auto& fits = flown->designs[static_cast<std::size_t>(&design - plan->designs.data())].fits;
  for (int f = 0; f < design.fit_count(); ++f) {
    const double duty = fits[f].tag_duty[tag - design.first_tag];
    json["fits"].push_back({{"emitter", design.fits[f]}, {"duty", duty}});
    text += std::isfinite(duty) ? fmt::format("{}: lit {:.1f} % of the time\n", design.fits[f], 100.0 * duty)
                                : fmt::format("{}: not flown after the warm-up\n", design.fits[f]);
  }
  json["lost"] = nullptr;
  for (const auto& lost : flown->lost) {
    if (lost.tag != tag) continue;
    const double time = static_cast<double>(lost.steps) * plan->clock.step;
    json["lost"] = {{"time_s", time}, {"why", flight::words(lost.loss)}};
    text += fmt::format("lost: found after {:.3f} s, it {}\n", time, flight::words(lost.loss));
  }
  if (json["lost"].is_null()) text += "not lost\n";
  if (options.path == Path::traced) {
    const auto file = out / fmt::format("path_{}_{}.csv", replicate, tag);
    store::write_text_atomically(file, path);
    json["path"] = file.string();
    text += "path: " + file.string() + "\n";
  }
  print_result(options.form == Form::json ? json.dump(2) + "\n" : text);
  return ExitStatus::done;
}

}  // namespace driftglow::program
