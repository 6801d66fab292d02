#include "models/air/operating_point.hpp"

#include <cmath>
#include <sstream>

#include "models/error.hpp"

namespace driftglow::air {
namespace {

template <class... Parts>
[[noreturn]] void refuse(const Parts&... parts) {
  std::ostringstream text;
  (text << ... << parts);
  throw InputError(text.str());
}

double dynamic_pressure_factor(const FlowLoss& loss, double density) {
  if (!(loss.area > 0.0) || !(loss.loss_coefficient >= 0.0)) {
    refuse("loss \"", loss.name, "\" has coefficient ", loss.loss_coefficient, " and area ", loss.area,
           " m2; expected a coefficient of at least 0 and an area above 0");
  }
  return 0.5 * density * loss.loss_coefficient / (loss.area * loss.area);
}

}  // namespace

FanCurve::FanCurve(std::string name, std::vector<std::pair<double, double>> points)
    : name_(std::move(name)), points_(std::move(points)) {
  if (points_.size() < 2) {
    refuse("fan \"", name_, "\" has ", points_.size(), " points; expected at least 2");
  }
  for (std::size_t i = 0; i < points_.size(); ++i) {
    const auto [flow, pressure] = points_[i];
    if (!(flow >= 0.0) || !(pressure >= 0.0)) {
      refuse("fan \"", name_, "\" has a point (", flow, " m3/s, ", pressure, " Pa); expected none below 0");
    }
    if (i == 0) continue;
    if (!(flow > points_[i - 1].first)) {
      refuse("fan \"", name_, "\" has flow ", flow, " m3/s after ", points_[i - 1].first,
             " m3/s; expected rising flows");
    }
    if (pressure > points_[i - 1].second) {
      refuse("fan \"", name_, "\" has pressure ", pressure, " Pa after ", points_[i - 1].second,
             " Pa; expected pressures that do not rise with flow (leave out the stalled branch)");
    }
  }
}

OperatingPoint operating_point(const FanCurve& fan, const FlowSystem& system) {
  if (!(system.vessel_area > 0.0)) {
    refuse("the vessel's area is ", system.vessel_area, " m2; expected more than 0");
  }
  if (!(system.tag_weight >= 0.0) || !(system.density > 0.0)) {
    refuse("tag weight is ", system.tag_weight, " N and air density ", system.density,
           " kg/m3; expected a weight of at least 0 and a density above 0");
  }
  std::vector<FlowLoss> losses = system.losses;
  if (system.fin_loss_coefficient != 0.0) {
    losses.push_back({"fins", system.fin_loss_coefficient, system.vessel_area});
  }
  double a = 0.0;  // Pa s2/m6, of the flow squared
  for (const auto& loss : losses) a += dynamic_pressure_factor(loss, system.density);
  const double tag_pressure = system.tag_weight / system.vessel_area;

  const auto& points = fan.points();
  const auto needed = [&](double flow) { return a * flow * flow + tag_pressure; };
  const auto [first_flow, highest] = points.front();
  if (highest < tag_pressure) {
    refuse("fan \"", fan.name(), "\" gives at most ", highest, " Pa, and the tags' weight alone takes ",
           tag_pressure, " Pa; expected a stronger fan, fewer or lighter tags, or a wider vessel");
  }
  if (highest < needed(first_flow)) {
    refuse("fan \"", fan.name(), "\" gives ", highest, " Pa at its first point (", first_flow,
           " m3/s), where the losses and tags take ", needed(first_flow),
           " Pa; expected curve points at lower flow, or smaller losses");
  }
  const auto [free_flow, lowest] = points.back();
  if (lowest > needed(free_flow)) {
    refuse("the curve of fan \"", fan.name(), "\" ends at ", free_flow, " m3/s and ", lowest,
           " Pa, where the losses and tags take only ", needed(free_flow),
           " Pa; expected curve points up to the free flow, or larger losses");
  }
  // The balance falls strictly along the curve: one segment changes its sign, and there it is a quadratic.
  std::size_t i = 1;
  while (points[i].second > needed(points[i].first)) ++i;
  const auto [flow_low, pressure_low] = points[i - 1];
  const double slope = (points[i].second - pressure_low) / (points[i].first - flow_low);
  const double rest = pressure_low - slope * flow_low - tag_pressure;
  const double denominator = std::sqrt(slope * slope + 4.0 * a * rest) - slope;
  const double flow = denominator > 0.0 ? 2.0 * rest / denominator : flow_low;

  OperatingPoint result{
      flow, needed(flow), tag_pressure, 1.0 - needed(flow) / highest, 1.0 - flow / free_flow, {}};
  for (const auto& loss : losses) {
    result.loss_pressures.emplace_back(loss.name,
                                       dynamic_pressure_factor(loss, system.density) * flow * flow);
  }
  return result;
}

}  // namespace driftglow::air
