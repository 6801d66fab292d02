#include "sim/sheet/quantity_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace driftglow::sheet {

std::string with_prefix(double value, std::string_view unit) {
  if (!std::isfinite(value)) return fmt::format("{} {}", std::isnan(value) ? "unknown" : "infinite", unit);
  if (value == 0.0) return fmt::format("0 {}", unit);
  constexpr const char* prefixes[] = {"f", "p", "n", "u", "m", "", "k", "M", "G"};
  constexpr int none = 5, last = 8;
  // Rounded to three digits first: 999.7 u is 1.00 m.
  const double rounded = std::strtod(fmt::format("{:.2e}", value).c_str(), nullptr);
  const int group = static_cast<int>(std::floor(std::log10(std::fabs(rounded)) / 3.0 + 1e-12));
  const int index = std::clamp(group + none, 0, last);
  const double scaled = rounded / std::pow(1000.0, index - none);
  const double size = std::fabs(scaled);
  const int decimals = size >= 100.0 ? 0 : size >= 10.0 ? 1 : 2;
  return fmt::format("{:.{}f} {}{}", scaled, decimals, prefixes[index], unit);
}

std::string percent(double share) {
  return fmt::format("{:.{}f} %", 100.0 * share, std::fabs(share) < 0.0995 ? 1 : 0);
}

}  // namespace driftglow::sheet
