#include "sim/sheet/design_sheet.hpp"

#include "sim/maps/drive_state.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {

DesignSheet make_sheet(const scenario::Scenario& scenario, const flight::Plan& plan) {
  const auto reach = maps::tag_reach(scenario);
  const auto view = field_view(scenario, plan);
  const auto& column = plan.air.column;
  DesignSheet sheet{};
  sheet.title = scenario.title.empty() ? scenario.name : scenario.title;
  sheet.field = field_of(scenario, plan, reach);
  sheet.search_coil = search_coil_readings(scenario, view, plan.omega);
  sheet.air = {column.design().flow, column.mean_speed(),
               column.velocity(0.0, 0.5 * scenario.vessel.height).u_z, plan.air.density, plan.air.fan_point};
  sheet.exposure = exposure_of(view, plan.drive.frequency);
  sheet.metal = metal_of(scenario, plan);
  sheet.pairs = pairs_of(plan);
  for (std::size_t i = 0; i < scenario.tags.size(); ++i) {
    const auto& design = plan.designs[i];
    sheet.designs.push_back(
        design_of(scenario.tags[i], design, scenario, plan, linkages(plan, design, reach)));
  }
  sheet.circuits = circuits_of(scenario, plan, reach);
  sheet.first_light = first_lights(plan, view, sheet.designs);
  sheet.cautions = cautions_of(sheet);
  return sheet;
}

}  // namespace driftglow::sheet
