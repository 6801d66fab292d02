#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

namespace driftglow::program {

using Rows = std::vector<std::vector<std::string>>;

// Columns as wide as their widest cell.
inline std::string aligned(const Rows& rows) {
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()), 0);
    for (std::size_t k = 0; k < row.size(); ++k) widths[k] = std::max(widths[k], row[k].size());
  }
  std::string text;
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t k = 0; k < row.size(); ++k) line += fmt::format("{:<{}}  ", row[k], widths[k]);
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  }
  return text;
}

}  // namespace driftglow::program
