#pragma once

#include <string>
#include <string_view>

namespace driftglow::sheet {

// A value with its SI prefix, femto to giga, and three significant digits: 9.139e-5 of "H" is "91.4 uH". The
// unit is one that takes prefixes ("g", not "kg"); plain text, so that every terminal shows it.
std::string with_prefix(double value, std::string_view unit);

// A share as a percentage, with one decimal below 10 %.
std::string percent(double share);

}  // namespace driftglow::sheet
