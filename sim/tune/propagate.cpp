#include "sim/tune/propagate.hpp"

#include <fmt/format.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "models/error.hpp"
#include "sim/scenario/edit.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/tune/tune.hpp"

namespace driftglow::tune {
namespace {

class Propagation {
 public:
  Propagation(const scenario::Scenario& scenario, const std::filesystem::path& file)
      : scenario_(scenario), file_(file) {
    scenario::Faults faults(file.string());
    root_ = scenario::parse_document(scenario.text, faults);
    for (const auto& value : scenario.tuned->values) places_.push_back(place_of(value));
  }

  // Columns: one standard deviation along each principal axis, in the values' units; axes of next to no
  // length are left out.
  Eigen::MatrixXd axes() const {
    const auto& values = scenario_.tuned->values;
    const auto n = static_cast<Eigen::Index>(values.size());
    Eigen::MatrixXd correlation = Eigen::MatrixXd::Identity(n, n);
    Eigen::VectorXd deviation(n);
    for (Eigen::Index k = 0; k < n; ++k) {
      const auto& value = values[static_cast<std::size_t>(k)];
      deviation[k] = value.deviation;
      for (Eigen::Index j = 0; j < k; ++j)
        correlation(k, j) = correlation(j, k) = value.correlations[static_cast<std::size_t>(j)];
    }
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(correlation);
    constexpr double rounding = 1e-2, shortest = 1e-4;
    if (solver.eigenvalues().minCoeff() < -rounding)
      throw InputError(
          values.back().where +
          "the correlations of the tuned values do not go together; expected what `driftglow tune` wrote");
    Eigen::MatrixXd result(n, 0);
    for (Eigen::Index k = 0; k < n; ++k) {
      if (solver.eigenvalues()[k] < shortest) continue;
      result.conservativeResize(Eigen::NoChange, result.cols() + 1);
      result.col(result.cols() - 1) =
          deviation.cwiseProduct(solver.eigenvectors().col(k)) * std::sqrt(solver.eigenvalues()[k]);
    }
    return result;
  }

  // The scenario that far from the tuned values.
  scenario::Scenario beside(const Eigen::VectorXd& step) const {
    auto root = root_;
    for (std::size_t k = 0; k < places_.size(); ++k) {
      const auto& value = scenario_.tuned->values[k];
      root = scenario::with_value(root, places_[k],
                                  fmt::format("{:.17g}{}{}", value.value + step[static_cast<Eigen::Index>(k)],
                                              value.unit.empty() ? "" : " ", value.unit));
    }
    scenario::Faults faults(file_.string());
    auto made = scenario::scenario_of(root, scenario_.text, file_, faults);
    made.flight = scenario_.flight;
    made.flight.trace.replicates = 0;
    return made;
  }

 private:
  scenario::KeyPlace place_of(const scenario::TunedValue& value) const {
    const auto found = scenario::find_key(*root_, value.key);
    if (const auto* what = std::get_if<std::string>(&found))
      throw InputError(fmt::format("{}{} {}", value.where, scenario::quote(value.key), *what));
    const auto& place = std::get<scenario::KeyPlace>(found);
    const scenario::Node* node = scenario::node_at(*root_, place);
    const auto written = node ? scenario::number_and_unit(node->scalar) : std::nullopt;
    if (!written || written->number != value.value || written->unit != value.unit)
      throw InputError(fmt::format(
          "{}{} was tuned to {}, but is {} in the scenario; expected the tuned value, or no block `tuned`",
          value.where, scenario::quote(value.key),
          scenario::quote(scenario::written(value.value, value.unit)),
          node ? scenario::quote(node->scalar) : "left out"));
    return place;
  }

  const scenario::Scenario& scenario_;
  std::filesystem::path file_;
  scenario::NodePointer root_;
  std::vector<scenario::KeyPlace> places_;
};

}  // namespace

std::optional<results::ParameterWidths> parameter_widths(const scenario::Scenario& scenario,
                                                         const std::filesystem::path& file,
                                                         const FlightSettings& settings,
                                                         const std::stop_token& stop) {
  const Propagation propagation(scenario, file);
  const Eigen::MatrixXd axes = propagation.axes();
  const auto subjects = flight_subjects(scenario);
  Simulation simulation(settings, stop);
  const auto centre = simulation.fly(propagation.beside(Eigen::VectorXd::Zero(axes.rows())));
  if (!centre) return std::nullopt;
  std::vector<double> variance(subjects.size(), 0.0);
  for (Eigen::Index k = 0; k < axes.cols(); ++k) {
    Flown sides[2];
    double half = 0.5;
    for (int side = 0; side < 2; ++side) {
      try {
        auto flown =
            simulation.fly(propagation.beside(side == 0 ? Eigen::VectorXd(-axes.col(k)) : axes.col(k)));
        if (!flown) return std::nullopt;
        sides[side] = std::move(*flown);
      } catch (const InputError&) {
        // Beyond what the scenario bears: one-sided.
        sides[side] = *centre;
        half = 1.0;
      }
    }
    for (std::size_t s = 0; s < subjects.size(); ++s) {
      const auto change = mean_difference(sides[1][s], sides[0][s], half);
      const double chance = std::isfinite(change.standard_error) ? change.standard_error : 0.0;
      variance[s] += change.mean * change.mean - chance * chance;
    }
  }
  results::ParameterWidths widths{
      scenario.tuned->readings, static_cast<int>(scenario.tuned->values.size()), {}};
  for (const auto& tag : scenario.tags) widths.half_width.emplace_back(tag.fits.size(), 0.0);
  for (std::size_t s = 0; s < subjects.size(); ++s)
    if (subjects[s].quantity == Quantity::duty)
      widths.half_width[*subjects[s].tag][subjects[s].fit] =
          normal_95 * std::sqrt(std::max(0.0, variance[s]));
  return widths;
}

}  // namespace driftglow::tune
