#include "sim/sheet/design_sheet.hpp"

#include "sim/maps/drive_state.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {

DesignSheet make_sheet(const scenario::Scenario& scenario, const flight::Plan& plan) {
  const auto reach = maps::tag_reach(scenario);
  const auto view = field_view(scenario, plan);
  DesignSheet sheet{};
  sheet.title = scenario.title.empty() ? scenario.name : scenario.title;
  sheet.field = field_of(scenario, plan, reach);
  sheet.search_coil = search_coil_readings(scenario, view, plan.omega);
  sheet.air = {plan.air.flow, plan.air.mean_speed(), plan.air.velocity(0.0, 0.5 * scenario.vessel.height).u_z,
               plan.air.density, plan.air.fan_point};
  sheet.exposure = exposure_of(view, plan.drive.frequency);
  sheet.metal = metal_of(scenario, plan);
  sheet.pairs = pairs_of(plan);
  std::vector<std::vector<double>> linked;
  std::vector<std::vector<receiver::GlowCurve>> curves;
  for (std::size_t i = 0; i < scenario.tags.size(); ++i) {
    linked.push_back(linkages(plan, plan.designs[i], reach));
    auto part = design_of(scenario.tags[i], plan.designs[i], scenario, plan, linked.back());
    sheet.designs.push_back(std::move(part.design));
    curves.push_back(std::move(part.curves));
  }
  sheet.circuits = circuits_of(scenario, plan, reach, linked, curves);
  sheet.first_light = first_lights(plan, view, sheet.designs);
  sheet.air_part = air_part(scenario, plan, sheet.designs);
  sheet.cautions = cautions_of(sheet);
  for (auto& caution : air_cautions(scenario, sheet.air_part)) sheet.cautions.push_back(std::move(caution));
  return sheet;
}

}  // namespace driftglow::sheet
