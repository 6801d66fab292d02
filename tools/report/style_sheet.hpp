#pragma once

#include <string_view>

namespace driftglow::report {

std::string_view style_sheet();  // report.css
std::string_view page_script();  // page/*.js, joined

}  // namespace driftglow::report
