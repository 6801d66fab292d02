#include "tools/report/tune_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/tune/tune_json.hpp"
#include "sim/tune/tuned_scenario.hpp"
#include "tools/report/chart.hpp"
#include "tools/report/markup.hpp"
#include "tools/report/page.hpp"

namespace driftglow::report {
namespace {

using tune::normal_95;
using tune::Tuned;

std::string with_unit(const std::string& text, const std::string& unit) {
  return unit.empty() ? text : text + " " + unit;
}

std::string verdict(const Tuned& tuned) {
  const auto narrowed = std::count_if(tuned.unknowns.begin(), tuned.unknowns.end(),
                                      [](const auto& u) { return u.constrained(); });
  std::string text = fmt::format("{} readings narrow {} of {} values", tuned.readings.size(), narrowed,
                                 tuned.unknowns.size());
  for (std::size_t i = 0; i < tuned.duties.size(); ++i) {
    const auto& duty = tuned.duties[i];
    text += fmt::format(
        "{} {} of {} glows {} % of the time, ± {} points by what is left open of these values (± {} "
        "before)",
        i == 0 ? ";" : ",", duty.fit, duty.tag, number(100.0 * duty.mean, 3),
        number(100.0 * normal_95 * duty.parameter_after, 2),
        number(100.0 * normal_95 * duty.parameter_before, 2));
  }
  return text + ".";
}

std::string warnings_part(const Tuned& tuned) {
  const auto warnings = tune::warnings_of(tuned);
  if (warnings.empty()) return "";
  std::string list = "<ul>\n";
  for (const auto& warning : warnings) list += "<li>" + escape(warning) + ".</li>\n";
  return alert("What does not fit, and what is not told", list + "</ul>");
}

std::string unknowns_part(const Tuned& tuned) {
  Table table{"Values of the scenario before and after; intervals 95 %",
              {"key", "before", "tuned", "from", "to", "deviation left of the prior's / %"},
              {}};
  std::vector<Interval> rows;
  for (const auto& u : tuned.unknowns) {
    const double reach = normal_95 * u.deviation;
    table.rows.push_back(
        {u.key, with_unit(fmt::format("{:g} ± {:.2g}", u.before, normal_95 * u.prior_deviation), u.unit),
         with_unit(tune::rounded(u.after, u.deviation), u.unit), tune::rounded(u.after - reach, u.deviation),
         tune::rounded(u.after + reach, u.deviation),
         u.constrained() ? number(100.0 * u.deviation / u.prior_deviation, 2) : "not constrained"});
    const double moved = (u.after - u.before) / u.prior_deviation, left = reach / u.prior_deviation;
    rows.push_back({u.key + ", before", 0, 0.0, -normal_95, normal_95});
    rows.push_back({u.key + ", tuned", 1, moved, moved - left, moved + left});
  }
  double low = 0.0, high = 0.0;
  for (const auto& row : rows) {
    low = std::min(low, row.low);
    high = std::max(high, row.high);
  }
  return table_markup(table) +
         chart_group(interval_chart(
             {"Before and after, in standard deviations of the prior",
              "Two rows a value: its prior, and what the readings leave of it, with 95 % "
              "intervals.",
              {}},
             round_range("from the scenario's value / prior standard deviations", low, high), rows));
}

std::string correlations_part(const Tuned& tuned) {
  Table table{
      fmt::format("Correlations of {:.1f} and more: such values are known together better than each alone",
                  tune::named_correlation),
      {"value", "with", "correlation"},
      {}};
  const auto correlations = tuned.correlations();
  for (Eigen::Index i = 0; i < correlations.rows(); ++i)
    for (Eigen::Index j = i + 1; j < correlations.cols(); ++j)
      if (std::fabs(correlations(i, j)) >= tune::named_correlation)
        table.rows.push_back({tuned.unknowns[static_cast<std::size_t>(i)].key,
                              tuned.unknowns[static_cast<std::size_t>(j)].key,
                              number(correlations(i, j), 2)});
  return table.rows.empty() ? "" : table_markup(table);
}

std::string readings_part(const Tuned& tuned) {
  Table table{fmt::format("Readings beside the model, SI; chi-squared {} for {} readings",
                          number(tuned.findings.chi_squared, 3), tuned.findings.degrees_of_freedom),
              {"reading", "quantity", "unit", "read", "uncertainty", "scatter of tags", "simulation noise",
               "model before", "model tuned", "standardised residual"},
              {}};
  std::vector<Interval> rows;
  double reach = tuned.findings.limit;
  for (std::size_t i = 0; i < tuned.readings.size(); ++i) {
    const auto& r = tuned.readings[i];
    const double residual = tuned.findings.data[i].residual;
    table.rows.push_back({r.name, std::string(tune::name(r.quantity)), std::string(tune::unit(r.quantity)),
                          number(r.value, 5), number(r.uncertainty, 2),
                          r.scatter > 0.0 ? number(r.scatter, 2) : "–",
                          r.noise > 0.0 ? number(r.noise, 2) : "–", number(r.before, 5), number(r.after, 5),
                          number(residual, 2)});
    constexpr double none = std::numeric_limits<double>::quiet_NaN();
    rows.push_back({r.name, std::fabs(residual) > tuned.findings.limit ? 1 : 0, residual, none, none});
    reach = std::max(reach, std::fabs(residual));
  }
  return table_markup(table) +
         chart_group(interval_chart(
             {"Standardised residuals",
              fmt::format(
                  "One row a reading: the model less the reading, over its standard deviation in this model. "
                  "Beyond ± {} it is told as not explained.",
                  number(tuned.findings.limit, 2)),
              {}},
             round_range("model less reading / standard deviations", -reach, reach), rows));
}

std::string duty_part(const Tuned& tuned) {
  Table table{"Duty in percent of the time at the tuned values; ± 95 % in points",
              {"tag design, emitter", "duty", "± by the values before", "± by the tuned values",
               "± chance, these flights"},
              {}};
  for (const auto& duty : tuned.duties)
    table.rows.push_back({duty.tag + ", " + duty.fit, number(100.0 * duty.mean, 3),
                          number(100.0 * normal_95 * duty.parameter_before, 2),
                          number(100.0 * normal_95 * duty.parameter_after, 2),
                          number(100.0 * normal_95 * duty.standard_error, 2)});
  Table next{"What to read next: how much of the duties' uncertainty by parameters would be left",
             {"reading", "unit", "taken to read to", "left / %"},
             {}};
  constexpr std::size_t most = 10;
  for (std::size_t i = 0; i < std::min(most, tuned.next.size()); ++i)
    next.rows.push_back({tuned.next[i].what, std::string(tune::unit(tuned.next[i].quantity)),
                         number(tuned.next[i].uncertainty, 2),
                         number(100.0 * tuned.next[i].duty_deviation / tuned.duty_deviation, 2)});
  return table_markup(table) + (next.rows.empty() ? "" : table_markup(next));
}

}  // namespace

std::string render_tune(const tune::Readings& readings, const Tuned& tuned,
                        const std::string& program_version) {
  const std::string head =
      paragraph(verdict(tuned), "verdict") +
      paragraph(fmt::format(
                    "About the scenario {}; {} replicates a flight, seed {}, the same random numbers at all "
                    "values.",
                    readings.base.name, readings.replicates, readings.base.flight.seed),
                "soft") +
      warnings_part(tuned);
  return render_page(
      "readings report", readings.title, head,
      {{"Values", unknowns_part(tuned) + correlations_part(tuned)},
       {"Readings", readings_part(tuned)},
       {"Duty", duty_part(tuned)}},
      paragraph(fmt::format("driftglow {}; readings {}; scenario {}, SHA-256 {}", program_version,
                            readings.name, readings.base.name, readings.base.hash),
                "soft"));
}

}  // namespace driftglow::report
