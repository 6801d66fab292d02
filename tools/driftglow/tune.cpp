#include "sim/tune/tune.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/parallel/interrupt.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/store/atomic_file.hpp"
#include "sim/tune/tune_json.hpp"
#include "sim/tune/tuned_scenario.hpp"
#include "tools/driftglow/aligned.hpp"
#include "tools/driftglow/commands.hpp"
#include "tools/driftglow/out_folder.hpp"
#include "tools/driftglow/progress.hpp"
#include "tools/report/tune_report.hpp"

namespace driftglow::program {
namespace {

using tune::Tuned;

std::string with_unit(const std::string& text, const std::string& unit) {
  return unit.empty() ? text : text + " " + unit;
}

std::string in_unit(tune::Quantity quantity, double value) {
  const auto unit = tune::unit(quantity);
  if (unit == "1") return fmt::format("{:.1f} %", 100.0 * value);
  if (unit == "1/s") return fmt::format("{:.2f} 1/s", value);
  return sheet::with_prefix(value, unit);
}

std::string unknowns_table(const Tuned& tuned) {
  Rows rows{{"unknown", "before", "tuned", "95 % interval", "narrowed to"}};
  for (const auto& u : tuned.unknowns) {
    const double before = tune::normal_95 * u.prior_deviation, after = tune::normal_95 * u.deviation;
    rows.push_back({u.key, with_unit(fmt::format("{:g} +- {:.2g}", u.before, before), u.unit),
                    with_unit(tune::rounded(u.after, u.deviation), u.unit),
                    with_unit(fmt::format("{} ... {}", tune::rounded(u.after - after, u.deviation),
                                          tune::rounded(u.after + after, u.deviation)),
                              u.unit),
                    u.constrained() ? fmt::format("{:.0f} %", 100.0 * u.deviation / u.prior_deviation)
                                    : "not constrained"});
  }
  return aligned(rows);
}

std::string correlations_text(const Tuned& tuned) {
  std::string text;
  const auto correlations = tuned.correlations();
  for (Eigen::Index i = 0; i < correlations.rows(); ++i)
    for (Eigen::Index j = i + 1; j < correlations.cols(); ++j)
      if (std::fabs(correlations(i, j)) >= tune::named_correlation)
        text += fmt::format("- {} and {}: {:+.2f}\n", tuned.unknowns[static_cast<std::size_t>(i)].key,
                            tuned.unknowns[static_cast<std::size_t>(j)].key, correlations(i, j));
  if (text.empty()) return text;
  return fmt::format("\nCorrelations of {:.1f} and more: known together better than each alone\n",
                     tune::named_correlation) +
         text;
}

std::string readings_table(const Tuned& tuned) {
  Rows rows{{"reading", "read", "model before", "model tuned", "off by"}};
  for (std::size_t i = 0; i < tuned.readings.size(); ++i) {
    const auto& r = tuned.readings[i];
    const double residual = tuned.findings.data[i].residual;
    rows.push_back(
        {r.name, in_unit(r.quantity, r.value) + " +- " + in_unit(r.quantity, r.uncertainty),
         in_unit(r.quantity, r.before), in_unit(r.quantity, r.after),
         fmt::format("{:+.1f} sd{}", residual, std::fabs(residual) > tuned.findings.limit ? "  !" : "")});
  }
  return aligned(rows) + fmt::format(
                             "chi-squared {:.1f} for {} readings; sd counts the reading's uncertainty, the "
                             "tags' scatter and the "
                             "simulation's noise\n",
                             tuned.findings.chi_squared, tuned.findings.degrees_of_freedom);
}

std::string duties_table(const Tuned& tuned) {
  Rows rows{{"design", "emitter", "duty", "by the values before", "by the tuned values"}};
  for (const auto& duty : tuned.duties)
    rows.push_back({duty.tag, duty.fit, fmt::format("{:.1f} %", 100.0 * duty.mean),
                    fmt::format("+- {:.1f} %", 100.0 * tune::normal_95 * duty.parameter_before),
                    fmt::format("+- {:.1f} %", 100.0 * tune::normal_95 * duty.parameter_after)});
  return aligned(rows);
}

std::string next_text(const Tuned& tuned) {
  if (tuned.duty_deviation == 0.0)
    return "\nThe duty depends on none of these values as far as the flights tell.\n";
  if (tuned.next.empty()) return "\nNo reading of the kinds known would narrow the duty by a thousandth.\n";
  std::string text = "\nNext reading: what would narrow the duty most\n";
  constexpr std::size_t most = 3;
  for (std::size_t i = 0; i < std::min(most, tuned.next.size()); ++i) {
    const auto& next = tuned.next[i];
    text += fmt::format("- {}, to {}: +- {:.0f} % of what is left\n", next.what,
                        in_unit(next.quantity, next.uncertainty),
                        100.0 * next.duty_deviation / tuned.duty_deviation);
  }
  return text;
}

std::string tune_text(const Tuned& tuned) {
  std::string text = unknowns_table(tuned) + correlations_text(tuned) + "\n" + readings_table(tuned) +
                     "\nDuty, and how far it may be off by what is not known of these values (95 %)\n" +
                     duties_table(tuned) + next_text(tuned);
  const auto warnings = tune::warnings_of(tuned);
  if (!warnings.empty()) text += "\nWarnings\n";
  for (const auto& warning : warnings) text += "- " + warning + ".\n";
  return text;
}

}  // namespace

ExitStatus run_tune(const Options& options) {
  const parallel::InterruptWatch watch;
  const auto scenario = scenario_of(options);
  const auto readings = tune::read_readings(options.readings, scenario, options.scenario);
  const auto out = out_of(options, scenario);
  const OutFolder folder(out);
  ProgressLine progress(options.talk);
  const auto instructions = options.instructions.value_or(flight::available_instruction_sets().back());
  const auto tuned = tune::tune(readings, {threads_of(options), instructions}, watch.token(),
                                [&](const std::string& what) { progress.say(what); });
  if (!tuned) {
    progress.say("interrupted; nothing was written");
    return ExitStatus::interrupted;
  }
  const auto file = out / (scenario.name + "_tuned.yaml");
  const auto text = tune::tuned_scenario(readings, *tuned, out);
  scenario::parse_scenario(text, file.string());
  const auto document = tune::tune_document(readings, *tuned, version).dump(2) + "\n";
  store::write_text_atomically(out / "tune.json", document);
  store::write_text_atomically(out / "tune.html", report::render_tune(readings, *tuned, version));
  store::write_text_atomically(file, text);
  if (options.form == Form::json) {
    print_result(document);
    progress.say("tuned scenario: " + file.string());
  } else {
    print_result(tune_text(*tuned) + "\nreport: " + (out / "tune.html").string() +
                 "\ntuned scenario: " + file.string() + "\n");
  }
  return ExitStatus::done;
}

}  // namespace driftglow::program
