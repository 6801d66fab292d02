#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/statistics/estimate.hpp"

namespace driftglow::report {

// Text as it may stand in HTML or SVG, between tags and inside quoted attributes. Control characters, which
// neither allows, become U+FFFD.
std::string escape(std::string_view text);

// A number with so many significant digits, as a reader likes it: no exponent between 1e-4 and 1e7, a true
// minus sign; an en dash when it is not finite.
std::string number(double value, int digits);

// "48.1 ± 0.6": mean and 95 % half width, both times `scale`, the half width with one digit, or two where the
// first is a 1. Without an interval (one value) only the mean, with four digits; an en dash when there is no
// value.
std::string with_interval(const statistics::Estimate& estimate, double scale);

// <p class="style">; of plain text.
std::string paragraph(const std::string& text, const char* style = "");
std::string heading(int level, const std::string& text);
// Charts side by side.
std::string chart_group(const std::string& charts);
// A framed note; `body` is markup.
std::string alert(const std::string& title, const std::string& body);

struct Table {
  std::string caption;
  std::vector<std::string> head;
  std::vector<std::vector<std::string>> rows;  // plain text; the first cell heads its row
};
// Cells are escaped here.
std::string table_markup(const Table& table);

}  // namespace driftglow::report
