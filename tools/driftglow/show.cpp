#include "models/error.hpp"
#include "sim/results/files.hpp"
#include "sim/results/setting.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/store/atomic_file.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/progress.hpp"
#include "tools/report/csv.hpp"
#include "tools/report/report.hpp"

namespace driftglow::program {

ExitStatus run_show(const ShowOptions& options) {
  const auto file =
      std::filesystem::is_directory(options.flight) ? options.flight / "flight.h5" : options.flight;
  if (!std::filesystem::exists(file))
    throw InputError(file.string() + ": there is no such file; expected the flight.h5 of a finished flight");
  const auto stored = results::read_flight(file);
  const auto out = options.out.value_or(file.parent_path());
  const auto report = out / "report.html";
  store::write_text_atomically(report, report::render_report(stored.setting, stored.campaign, stored.origin));
  const auto summary = results::summarise(stored.setting.outline, stored.campaign);
  std::string text = "report: " + report.string() + "\n";
  if (options.tables == Tables::csv) {
    for (const auto& table : report::chart_tables(stored.setting, summary))
      store::write_text_atomically(out / "csv" / table.name, table.text);
    text += "tables: " + (out / "csv").string() + "\n";
  }
  if (options.form == Form::json) {
    const auto scenario =
        scenario::parse_scenario(stored.origin.scenario_text, stored.scenario_name + ".yaml");
    print_result(results::summary_json(summary, scenario, stored.origin.program_version));
    ProgressLine(options.talk).say("report: " + report.string());
  } else {
    print_result(text);
  }
  return ExitStatus::done;
}

}  // namespace driftglow::program
