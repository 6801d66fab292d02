#include "sim/tune/tune_json.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>

namespace driftglow::tune {
namespace {

using Json = nlohmann::ordered_json;

Json unknown_json(const TunedUnknown& unknown) {
  const double reach = normal_95 * unknown.deviation;
  return {{"key", unknown.key},
          {"unit", unknown.unit},
          {"before", unknown.before},
          {"before_standard_deviation", unknown.prior_deviation},
          {"after", unknown.after},
          {"standard_deviation", unknown.deviation},
          {"low_95", unknown.after - reach},
          {"high_95", unknown.after + reach},
          {"constrained", unknown.constrained()}};
}

Json reading_json(const TunedReading& reading, const Datum& datum, double limit) {
  return {{"name", reading.name},
          {"quantity", name(reading.quantity)},
          {"unit", unit(reading.quantity)},
          {"value", reading.value},
          {"uncertainty", reading.uncertainty},
          {"scatter_of_tags", reading.scatter},
          {"simulation_noise", reading.noise},
          {"model_before", reading.before},
          {"model_after", reading.after},
          {"deviations", reading.deviations()},
          {"standardised_residual", datum.residual},
          {"explained", std::fabs(datum.residual) <= limit}};
}

}  // namespace

std::string shown(const Tuned& tuned, const Datum& datum) {
  return datum.is_prior ? fmt::format("the tolerance of `{}`", tuned.unknowns[datum.number].key)
                        : fmt::format("the reading `{}`", tuned.readings[datum.number].name);
}

std::vector<std::string> warnings_of(const Tuned& tuned) {
  std::vector<std::string> warnings;
  const auto& findings = tuned.findings;
  for (const auto& pair : findings.contradictions)
    warnings.push_back(fmt::format(
        "{} and {} contradict each other: either can be explained without the other, not both ({:.1f} and "
        "{:.1f} "
        "standard deviations). Read again, or give the one that is doubtful a larger uncertainty",
        shown(tuned, findings.data[pair.first]), shown(tuned, findings.data[pair.second]),
        std::fabs(findings.data[pair.first].residual), std::fabs(findings.data[pair.second].residual)));
  for (const auto number : findings.unexplained) {
    const auto& datum = findings.data[number];
    if (datum.is_prior) {
      warnings.push_back(
          fmt::format("The readings want `{}` {:.1f} standard deviations from the scenario's value, which "
                      "its tolerance hardly "
                      "allows. Is the tolerance right, or does it stand in for something else that is wrong?",
                      tuned.unknowns[datum.number].key, std::fabs(datum.residual)));
      continue;
    }
    warnings.push_back(
        fmt::format("The model cannot explain {}: it is {:.1f} standard deviations off, more than {:.1f} "
                    "(chance does that once in "
                    "a hundred such files). Read again, or look for what the scenario has wrong",
                    shown(tuned, datum), std::fabs(datum.residual), findings.limit));
  }
  constexpr double unlikely = 0.01;
  if (findings.probability < unlikely && findings.unexplained.empty() && findings.contradictions.empty())
    warnings.push_back(
        fmt::format("All readings together fit worse than their uncertainties allow: chi-squared {:.1f} for "
                    "{} readings (probability "
                    "{:.1g}), though none stands out. The uncertainties may be too small",
                    findings.chi_squared, findings.degrees_of_freedom, findings.probability));
  std::vector<std::string> open;
  for (const auto& unknown : tuned.unknowns)
    if (!unknown.constrained()) open.push_back("`" + unknown.key + "`");
  if (!open.empty())
    warnings.push_back(
        fmt::format("These readings do not constrain {}: what is known of {} is still the tolerance",
                    fmt::join(open, ", "), open.size() == 1 ? "it" : "them"));
  if (tuned.ended == Posterior::Ended::gave_up)
    warnings.push_back("The fit did not settle; take the values with care");
  return warnings;
}

nlohmann::ordered_json tune_document(const Readings& readings, const Tuned& tuned,
                                     const std::string& version) {
  Json out{{"program_version", version},
           {"scenario", readings.base.name},
           {"scenario_sha256", readings.base.hash},
           {"readings_file", readings.name},
           {"title", readings.title},
           {"seed", readings.base.flight.seed},
           {"replicates", readings.replicates}};
  out["unknowns"] = Json::array();
  for (const auto& unknown : tuned.unknowns) out["unknowns"].push_back(unknown_json(unknown));
  const auto correlations = tuned.correlations();
  Json rows = Json::array(), covariance = Json::array();
  for (Eigen::Index i = 0; i < correlations.rows(); ++i) {
    const Eigen::VectorXd row = correlations.row(i), own = tuned.covariance.row(i);
    rows.push_back(std::vector<double>(row.begin(), row.end()));
    covariance.push_back(std::vector<double>(own.begin(), own.end()));
  }
  out["correlations"] = rows;
  out["covariance"] = covariance;
  out["readings"] = Json::array();
  for (std::size_t i = 0; i < tuned.readings.size(); ++i)
    out["readings"].push_back(reading_json(tuned.readings[i], tuned.findings.data[i], tuned.findings.limit));
  out["chi_squared"] = {{"value", tuned.findings.chi_squared},
                        {"degrees_of_freedom", tuned.findings.degrees_of_freedom},
                        {"probability", tuned.findings.probability}};
  out["contradictions"] = Json::array();
  for (const auto& pair : tuned.findings.contradictions)
    out["contradictions"].push_back(
        {shown(tuned, tuned.findings.data[pair.first]), shown(tuned, tuned.findings.data[pair.second])});
  out["unexplained"] = Json::array();
  for (const auto number : tuned.findings.unexplained)
    out["unexplained"].push_back(shown(tuned, tuned.findings.data[number]));
  out["duties"] = Json::array();
  for (const auto& duty : tuned.duties)
    out["duties"].push_back({{"tag_design", duty.tag},
                             {"emitter", duty.fit},
                             {"mean", duty.mean},
                             {"standard_error", duty.standard_error},
                             {"parameter_half_width_95_before", normal_95 * duty.parameter_before},
                             {"parameter_half_width_95_after", normal_95 * duty.parameter_after}});
  out["duty_deviation"] = tuned.duty_deviation;
  out["next_readings"] = Json::array();
  for (const auto& next : tuned.next)
    out["next_readings"].push_back({{"what", next.what},
                                    {"quantity", name(next.quantity)},
                                    {"uncertainty", next.uncertainty},
                                    {"duty_deviation", next.duty_deviation}});
  out["warnings"] = warnings_of(tuned);
  out["fit_settled"] = tuned.ended == Posterior::Ended::settled;
  return out;
}

}  // namespace driftglow::tune
