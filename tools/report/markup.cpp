#include "tools/report/markup.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace driftglow::report {
namespace {

constexpr const char* dash = "–";

std::string fixed(double value, int decimals) {
  std::string text = fmt::format("{:.{}f}", std::abs(value), decimals);
  const bool zero = text.find_first_not_of("0.") == std::string::npos;
  return (value < 0.0 && !zero ? "−" : "") + text;
}

// Power of ten of the first digit after rounding to `digits`.
int decade(double value, int digits) {
  const std::string text = fmt::format("{:.{}e}", std::abs(value), digits - 1);
  return std::stoi(text.substr(text.find('e') + 1));
}

}  // namespace

std::string escape(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default: {
        const auto byte = static_cast<unsigned char>(c);
        const bool control = (byte < 0x20 && c != '\n' && c != '\t') || byte == 0x7f;
        out += control ? std::string("\uFFFD") : std::string(1, c);
      }
    }
  }
  return out;
}

std::string number(double value, int digits) {
  if (!std::isfinite(value)) return dash;
  if (value == 0.0) return "0";
  const int first = decade(value, digits);
  if (first < -4 || first > 6) {
    const double mantissa = value / std::pow(10.0, first);
    return fmt::format("{}·10^{}", fixed(mantissa, digits - 1), first);
  }
  return fixed(value, std::max(0, digits - 1 - first));
}

std::string with_interval(const statistics::Estimate& estimate, double scale) {
  const double mean = estimate.mean * scale, half = estimate.half_width * scale;
  if (!std::isfinite(mean)) return dash;
  constexpr int alone = 4;
  // Where all replicates agree but for rounding there is nothing to show after the mean's digits.
  if (!std::isfinite(half)) return number(mean, alone);
  if (half <= 1e-9 * std::abs(mean)) return number(mean, alone) + " ± 0";
  const int first = decade(half, 2);
  const int digits = std::lround(half / std::pow(10.0, first - 1)) < 20 ? 2 : 1;
  const int decimals = std::max(0, digits - 1 - first);
  return fixed(mean, decimals) + " ± " + fixed(half, decimals);
}

std::string paragraph(const std::string& text, const char* style) {
  return fmt::format("<p{}>{}</p>\n", *style == '\0' ? std::string() : fmt::format(" class=\"{}\"", style),
                     escape(text));
}

std::string heading(int level, const std::string& text) {
  return fmt::format("<h{0}>{1}</h{0}>\n", level, escape(text));
}

std::string chart_group(const std::string& charts) {
  return "<div class=\"charts\">\n" + charts + "</div>\n";
}

std::string alert(const std::string& title, const std::string& body) {
  return "<div class=\"alert\" role=\"note\"><h2>" + escape(title) + "</h2>" + body + "</div>\n";
}

std::string table_markup(const Table& table) {
  // The caption stands outside what scrolls, so that a narrow screen shows all of it.
  const std::string caption = escape(table.caption);
  std::string out = "<p class=\"caption\">" + caption +
                    "</p><div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"" + caption +
                    "\"><table aria-label=\"" + caption + "\"><thead><tr>";
  for (const auto& cell : table.head) out += "<th scope=\"col\">" + escape(cell) + "</th>";
  out += "</tr></thead><tbody>\n";
  for (const auto& row : table.rows) {
    out += "<tr>";
    for (std::size_t i = 0; i < row.size(); ++i) {
      out += i == 0 ? "<th scope=\"row\">" + escape(row[i]) + "</th>" : "<td>" + escape(row[i]) + "</td>";
    }
    out += "</tr>\n";
  }
  return out + "</tbody></table></div>\n";
}

}  // namespace driftglow::report
