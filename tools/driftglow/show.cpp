#include "models/error.hpp"
#include "sim/results/files.hpp"
#include "sim/results/flight_head.hpp"
#include "sim/results/setting.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/study/files.hpp"
#include "sim/study/stored_study.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/progress.hpp"
#include "tools/report/csv.hpp"
#include "tools/report/report.hpp"
#include "tools/report/study_report.hpp"

namespace driftglow::program {
namespace {

constexpr const char* remedy = "fly the scenario again";

struct Shown {
  std::string page, document;
  std::vector<report::CsvFile> tables;
};

Shown shown_flight(const std::filesystem::path& file, const ShowOptions& options) {
  const auto stored = results::read_flight(file);
  const auto summary = results::summarise(stored.setting.outline, stored.campaign);
  Shown shown{report::render_report(stored.setting, stored.campaign, stored.origin), "", {}};
  if (options.form == Form::json)
    shown.document = results::summary_json(summary, results::stored_scenario(store::Reader(file, remedy)),
                                           stored.origin.program_version);
  if (options.tables == Tables::csv) shown.tables = report::chart_tables(stored.setting, summary);
  return shown;
}

Shown shown_study(const std::filesystem::path& file, const ShowOptions& options) {
  const auto [study, table, program_version] = study::read_stored_study(file);
  Shown shown{report::render_study(study, table, program_version), "", {}};
  if (options.form == Form::json)
    shown.document = study::study_document(study, table, program_version).dump(2) + "\n";
  if (options.tables == Tables::csv) shown.tables = report::study_tables(study, table);
  return shown;
}

std::filesystem::path file_of(const std::filesystem::path& given) {
  std::filesystem::path file = given;
  if (std::filesystem::is_directory(given)) {
    file = given / "study.h5";
    if (!std::filesystem::exists(file)) file = given / "flight.h5";
  }
  if (!std::filesystem::exists(file))
    throw InputError(file.string() +
                     ": there is no such file; expected the flight.h5 of a finished flight or the study.h5 "
                     "of a finished study");
  return file;
}

bool is_study(const std::filesystem::path& file) {
  return store::Reader(file, remedy).has_attribute("/", "study");
}

}  // namespace

ExitStatus run_show(const ShowOptions& options) {
  const auto file = file_of(options.flight);
  const auto shown = is_study(file) ? shown_study(file, options) : shown_flight(file, options);
  const auto out = options.out.value_or(file.parent_path());
  const auto report = out / "report.html";
  store::write_text_atomically(report, shown.page);
  std::string text = "report: " + report.string() + "\n";
  for (const auto& table : shown.tables) store::write_text_atomically(out / "csv" / table.name, table.text);
  if (options.tables == Tables::csv) text += "tables: " + (out / "csv").string() + "\n";
  if (options.form == Form::json) {
    print_result(shown.document);
    ProgressLine(options.talk).say("report: " + report.string());
  } else {
    print_result(text);
  }
  return ExitStatus::done;
}

}  // namespace driftglow::program
