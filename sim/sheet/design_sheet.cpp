#include "sim/sheet/design_sheet.hpp"

#include "sim/maps/drive_state.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

// What the cautions are made from.
DesignSheet facts(const scenario::Scenario& scenario, const flight::Plan& plan, const FieldView& view,
                  Spreads spreads) {
  const auto reach = maps::tag_reach(scenario);
  DesignSheet sheet{};
  sheet.title = scenario.title.empty() ? scenario.name : scenario.title;
  sheet.air = {plan.air.flow, plan.air.mean_speed(), plan.air.velocity(0.0, 0.5 * scenario.vessel.height).u_z,
               plan.air.density, plan.air.fan_point};
  sheet.field = field_of(scenario, plan, reach);
  sheet.exposure = exposure_of(view, plan.drive.frequency);
  sheet.metal = metal_of(scenario, plan);
  sheet.pairs = pairs_of(plan);
  for (std::size_t i = 0; i < scenario.tags.size(); ++i) {
    const auto& design = plan.designs[i];
    sheet.designs.push_back(
        design_of(scenario.tags[i], design, scenario, plan, linkages(plan, design, reach), spreads));
  }
  sheet.circuits = circuits_of(scenario, plan, reach, spreads);
  sheet.air_part = air_part(scenario, plan, sheet.designs);
  return sheet;
}

std::vector<std::string> all_cautions(const scenario::Scenario& scenario, const DesignSheet& sheet) {
  auto cautions = cautions_of(sheet);
  for (auto& caution : air_cautions(scenario, sheet.air_part)) cautions.push_back(std::move(caution));
  return cautions;
}

}  // namespace

DesignSheet make_sheet(const scenario::Scenario& scenario, const flight::Plan& plan) {
  const auto view = field_view(scenario, plan);
  auto sheet = facts(scenario, plan, view, Spreads::made);
  sheet.search_coil = search_coil_readings(scenario, view, plan.omega);
  sheet.first_light = first_lights(plan, view, sheet.designs);
  sheet.cautions = all_cautions(scenario, sheet);
  return sheet;
}

std::vector<std::string> make_cautions(const scenario::Scenario& scenario, const flight::Plan& plan) {
  return all_cautions(scenario, facts(scenario, plan, field_view(scenario, plan), Spreads::left_out));
}

}  // namespace driftglow::sheet
