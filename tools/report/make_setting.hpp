#pragma once

#include <string>
#include <vector>

#include "sim/flight/plan.hpp"
#include "sim/results/setting.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/sheet/design_sheet.hpp"

namespace driftglow::report {

results::Setting make_setting(const scenario::Scenario& scenario, const flight::Plan& plan,
                              const sheet::DesignSheet& sheet);

// The design sheet's cautions, and those that the flight adds.
std::vector<std::string> all_cautions(const results::Setting& setting, const results::Summary& summary);

}  // namespace driftglow::report
