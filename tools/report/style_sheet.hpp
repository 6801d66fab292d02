#pragma once

#include <string_view>

namespace driftglow::report {

std::string_view style_sheet();  // report.css

}  // namespace driftglow::report
