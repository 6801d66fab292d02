#include "tools/report/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "tools/report/contour.hpp"
#include "tools/report/palette.hpp"

namespace driftglow::report {
namespace {

constexpr double width = 340.0, left = 46.0, right = 12.0, above = 22.0, below = 40.0;
constexpr int series_styles = 6;  // in the style sheet

int style_of(std::size_t series) {
  return static_cast<int>(series % series_styles);
}

// Coordinates with a hundredth of a unit.
std::string at(double value) {
  return fmt::format("{:.2f}", value == 0.0 ? 0.0 : value);
}

std::string text(double x, double y, const char* anchor, const std::string& words) {
  return fmt::format("<text x=\"{}\" y=\"{}\" text-anchor=\"{}\">{}</text>", at(x), at(y), anchor,
                     escape(words));
}

std::string line(double x1, double y1, double x2, double y2, const std::string& style) {
  return fmt::format("<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" class=\"{}\"/>", at(x1), at(y1), at(x2),
                     at(y2), style);
}

std::string box(double x, double y, double w, double h, const std::string& attributes) {
  return fmt::format("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {}/>", at(x), at(y), at(w), at(h),
                     attributes);
}

// Maps a range onto the drawing.
struct Placing {
  const AxisRange& axis;
  double from, to;

  double operator()(double value) const {
    const auto measure = [&](double v) { return axis.scale == Scale::decades ? std::log10(v) : v; };
    return from +
           (to - from) * (measure(value) - measure(axis.low)) / (measure(axis.high) - measure(axis.low));
  }
};

std::string tick_label(double value, const AxisRange& axis) {
  if (axis.scale == Scale::decades) return fmt::format("{:g}", value);
  const double step = (axis.high - axis.low) / 1e6;
  if (std::abs(value) < step) return "0";
  return fmt::format("{}{:g}", value < 0.0 ? "−" : "", std::abs(value));
}

std::string x_axis(const AxisRange& axis, const Placing& x, double top, double bottom) {
  std::string out;
  for (const double tick : ticks(axis, 6)) {
    out += line(x(tick), top, x(tick), bottom, "grid") +
           text(x(tick), bottom + 14.0, "middle", tick_label(tick, axis));
  }
  return out + line(x.from, bottom, x.to, bottom, "axis") +
         text(0.5 * (x.from + x.to), bottom + 31.0, "middle", axis.label);
}

std::string y_axis(const AxisRange& axis, const Placing& y, double begin, double end) {
  std::string out;
  for (const double tick : ticks(axis, 6)) {
    out += line(begin, y(tick), end, y(tick), "grid") +
           text(begin - 5.0, y(tick) + 4.0, "end", tick_label(tick, axis));
  }
  return out + line(begin, y.from, begin, y.to, "axis") + text(2.0, 12.0, "start", axis.label);
}

// Marks that differ in shape as well as in colour.
std::string mark(double x, double y, int style) {
  const std::string fill = fmt::format("class=\"f{}\"", style);
  const auto polygon = [&](const std::vector<std::array<double, 2>>& corners) {
    std::string points;
    for (const auto& corner : corners)
      points += fmt::format("{}{},{}", points.empty() ? "" : " ", at(x + corner[0]), at(y + corner[1]));
    return fmt::format("<polygon points=\"{}\" {}/>", points, fill);
  };
  switch (style % 3) {
    case 0:
      return fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"4.5\" {}/>", at(x), at(y), fill);
    case 1:
      return polygon({{-4.2, -4.2}, {4.2, -4.2}, {4.2, 4.2}, {-4.2, 4.2}});
    default:
      return polygon({{0.0, -5.6}, {5.0, 4.0}, {-5.0, 4.0}});
  }
}

// What a pointer near a point of the drawing, or the arrow keys, bring up.
struct Tip {
  double x, y;
  std::string text;
};

std::string attribute(const char* name, const nlohmann::json& value) {
  return fmt::format(" {}=\"{}\"", name,
                     escape(value.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)));
}

std::string tips_attribute(const std::vector<Tip>& tips) {
  auto list = nlohmann::json::array();
  const auto rounded = [](double v) { return std::round(10.0 * v) / 10.0; };
  for (const auto& tip : tips) list.push_back({rounded(tip.x), rounded(tip.y), tip.text});
  return attribute("data-tips", list);
}

// The caption is the title for those who see it; it and the description are read out with the drawing.
// `attributes`: what the page's script reads.
std::string figure(const Words& words, double height, const std::string& drawing,
                   const std::string& attributes) {
  std::string out = "<figure><figcaption>" + escape(words.title) + "</figcaption>";
  out += fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {:g} {:g}\" role=\"img\" tabindex=\"0\"{}>",
      width, height, attributes);
  out += "<title>" + escape(words.title) + "</title><desc>" + escape(words.description) + "</desc>\n" +
         drawing + "</svg>\n";
  if (words.values)
    out += "<details><summary>Values</summary>" + table_markup(*words.values) + "</details>\n";
  return out + "</figure>\n";
}

// A grid of values that the pointer can read: from (left, bottom) to (right, top) of the drawing, in the
// axes' units.
std::string grid_attribute(const std::array<double, 4>& box, const AxisRange& x, const AxisRange& y,
                           std::array<int, 2> cells, bool nodes, const std::vector<double>& values,
                           const std::string& unit) {
  auto list = nlohmann::json::array();
  for (const double value : values) {
    if (!std::isfinite(value)) {
      list.push_back(nullptr);
    } else {
      list.push_back(nlohmann::json::parse(fmt::format("{:.3g}", value)));
    }
  }
  return attribute("data-grid", {{"box", box},
                                 {"x", {x.low, x.high}},
                                 {"y", {y.low, y.high}},
                                 {"labels", {x.label, y.label}},
                                 {"cells", cells},
                                 {"nodes", nodes},
                                 {"unit", unit},
                                 {"values", list}});
}

// Names of the series from y on, several a row as far as they fit.
constexpr double legend_row = 15.0;

struct Legend {
  std::string drawing;
  double height;
};

Legend legend(const std::vector<Curve>& curves, double y) {
  constexpr double sample = 24.0, gap = 12.0, per_letter = 6.2;
  double x = left, row = y;
  std::string out;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    const double wide = sample + 4.0 + per_letter * static_cast<double>(curves[i].name.size()) + gap;
    if (x > left && x + wide > width) {
      x = left;
      row += legend_row;
    }
    out += line(x, row - 4.0, x + sample, row - 4.0, fmt::format("curve l{}", style_of(i))) +
           text(x + sample + 4.0, row, "start", curves[i].name) + "\n";
    x += wide;
  }
  return {out, row - y + legend_row};
}

std::string filled(double t) {
  return "class=\"cell\" fill=\"" + ramp_hex(t) + "\"";
}

double round_step(double span, int most) {
  const double rough = span / most;
  const double power = std::pow(10.0, std::floor(std::log10(rough)));
  for (const double factor : {1.0, 2.0, 5.0}) {
    if (factor * power >= rough * (1.0 - 1e-9)) return factor * power;
  }
  return 10.0 * power;
}

}  // namespace

AxisRange round_range(std::string label, double low, double high) {
  if (!(high > low)) high = low + (low == 0.0 ? 1.0 : std::abs(low));
  const double step = round_step(high - low, 6);
  return {std::move(label), step * std::floor(low / step + 1e-9), step * std::ceil(high / step - 1e-9)};
}

std::vector<double> ticks(const AxisRange& axis, int most) {
  std::vector<double> found;
  if (axis.scale == Scale::decades) {
    const int first = static_cast<int>(std::ceil(std::log10(axis.low) - 1e-9));
    const int last = static_cast<int>(std::floor(std::log10(axis.high) + 1e-9));
    for (int power = first; power <= last; ++power) found.push_back(std::pow(10.0, power));
    return found;
  }
  const double step = round_step(axis.high - axis.low, most);
  const auto first = std::llround(std::ceil(axis.low / step - 1e-9)),
             last = std::llround(std::floor(axis.high / step + 1e-9));
  for (auto i = first; i <= last; ++i) found.push_back(static_cast<double>(i) * step);
  return found;
}

std::string curve_chart(const Words& words, const AxisRange& x, const AxisRange& y,
                        const std::vector<Curve>& curves) {
  constexpr double tall = 180.0, bottom = above + tall;
  const Placing place_x{x, left, width - right}, place_y{y, bottom, above};
  std::string out = x_axis(x, place_x, above, bottom) + y_axis(y, place_y, left, width - right) + "\n";
  for (std::size_t i = 0; i < curves.size(); ++i) {
    std::string points;
    for (std::size_t j = 0; j < curves[i].x.size(); ++j) {
      points +=
          fmt::format("{}{},{}", j == 0 ? "" : " ", at(place_x(curves[i].x[j])), at(place_y(curves[i].y[j])));
    }
    out += fmt::format("<polyline class=\"curve l{}\" points=\"{}\"/>\n", style_of(i), points);
  }
  double height = bottom + below;
  if (curves.size() > 1) {
    const Legend names = legend(curves, height + 8.0);
    out += names.drawing;
    height += names.height;
  }
  std::vector<Tip> tips;
  const auto& xs = curves.front().x;
  for (std::size_t j = 0; j < xs.size(); ++j) {
    std::string tip = number(xs[j], 3) + " " + x.label;
    double high = bottom;
    for (const auto& curve : curves) {
      tip += fmt::format("\n{}: {}", curve.name, number(curve.y[j], 3));
      high = std::min(high, place_y(curve.y[j]));
    }
    tips.push_back({place_x(xs[j]), high, tip + "\n" + y.label});
  }
  return figure(words, height, out, tips_attribute(tips) + " data-snap=\"x\"");
}

std::string bar_chart(const Words& words, const std::string& x_label, const std::string& y_label,
                      const std::vector<double>& heights) {
  constexpr double tall = 180.0, bottom = above + tall;
  const double highest = *std::max_element(heights.begin(), heights.end());
  const AxisRange x{x_label, -0.5, static_cast<double>(heights.size()) - 0.5},
      y = round_range(y_label, 0.0, highest);
  const Placing place_x{x, left, width - right}, place_y{y, bottom, above};
  std::string out = y_axis(y, place_y, left, width - right);
  const double step = std::max(1.0, round_step(static_cast<double>(heights.size()), 8));
  for (double tick = 0.0; tick < static_cast<double>(heights.size()); tick += step) {
    out += text(place_x(tick), bottom + 14.0, "middle", fmt::format("{:g}", tick));
  }
  out += text(0.5 * (left + width - right), bottom + 31.0, "middle", x_label) + "\n";
  std::vector<Tip> tips;
  for (std::size_t i = 0; i < heights.size(); ++i) {
    const double centre = static_cast<double>(i), top = place_y(heights[i]);
    out += box(place_x(centre - 0.4), top, place_x(centre + 0.4) - place_x(centre - 0.4), bottom - top,
               "class=\"f0\"") +
           "\n";
    tips.push_back({place_x(centre), top, fmt::format("{} {}: {} %", i, x_label, number(heights[i], 3))});
  }
  return figure(words, bottom + below, out + line(left, bottom, width - right, bottom, "axis"),
                tips_attribute(tips) + " data-snap=\"x\"");
}

Interval interval_of(std::string name, int series, const statistics::Estimate& estimate, double scale) {
  return {std::move(name), series, scale * estimate.mean, scale * (estimate.mean - estimate.half_width),
          scale * (estimate.mean + estimate.half_width)};
}

std::array<double, 2> reach_of(const std::vector<Interval>& intervals) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  const auto look = [&](double value) {
    if (!std::isfinite(value)) return;
    low = std::min(low, value);
    high = std::max(high, value);
  };
  for (const auto& interval : intervals) {
    for (const double value : {interval.value, interval.low, interval.high}) look(value);
    for (const double single : interval.singles) look(single);
  }
  return low <= high ? std::array{low, high} : std::array{0.0, 1.0};
}

namespace {

// A row's whisker and mark at the height y.
std::string row_of(const AxisRange& x, const Placing& place, const Interval& interval, double y) {
  const int style = style_of(static_cast<std::size_t>(interval.series));
  std::string out;
  for (const double single : interval.singles) {
    out += fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"2\" class=\"tag f{}\"/>", at(place(single)), at(y),
                       style);
  }
  if (std::isfinite(interval.low) && std::isfinite(interval.high)) {
    const double from = place(std::max(x.low, interval.low)), to = place(std::min(x.high, interval.high));
    const std::string stroke = fmt::format("l{} whisker", style);
    out += line(from, y, to, y, stroke) + line(from, y - 5.0, from, y + 5.0, stroke) +
           line(to, y - 5.0, to, y + 5.0, stroke);
  }
  return out + mark(place(interval.value), y, style) + "\n";
}

std::string told(const Interval& interval) {
  const double under = interval.value - interval.low, over = interval.high - interval.value;
  // Even on both sides but for rounding: an estimate; else a bootstrap's percentiles.
  if (!std::isfinite(under) || std::abs(under - over) <= 1e-9 * (std::abs(under) + std::abs(interval.value)))
    return with_interval({interval.value, 0.0, under, 0}, 1.0);
  return fmt::format("{} ({} to {})", number(interval.value, 3), number(interval.low, 3),
                     number(interval.high, 3));
}

// What fits into so many letters.
std::string shortened(const std::string& name, std::size_t most) {
  std::size_t letters = 0;
  for (std::size_t i = 0; i < name.size(); ++i) {
    // Bytes that go on a letter of UTF-8.
    if ((static_cast<unsigned char>(name[i]) & 0xc0U) == 0x80U) continue;
    if (++letters > most - 1 && name.size() - i > 1) return name.substr(0, i) + "…";
  }
  return name;
}

}  // namespace

std::string interval_chart(const Words& words, const AxisRange& x, const std::vector<Interval>& intervals) {
  constexpr double row = 38.0, begin = 14.0, top = 6.0;
  const double bottom = top + row * static_cast<double>(intervals.size()) + 6.0;
  const Placing place{x, begin, width - 14.0};
  std::string out = x_axis(x, place, top, bottom) + "\n";
  std::vector<Tip> tips;
  for (std::size_t i = 0; i < intervals.size(); ++i) {
    const auto& interval = intervals[i];
    const double y = top + row * static_cast<double>(i) + 26.0;
    out += text(begin + 2.0, y - 13.0, "start", shortened(interval.name, 50));
    if (!std::isfinite(interval.value)) continue;
    out += row_of(x, place, interval, y);
    tips.push_back({place(interval.value), y, interval.name + ": " + told(interval) + "\n" + x.label});
  }
  return figure(words, bottom + below, out, tips_attribute(tips));
}

std::string level_chart(const Words& words, const AxisRange& x, const std::vector<Interval>& levels) {
  constexpr double row = 24.0, top = 6.0, per_letter = 6.2;
  constexpr std::size_t most_letters = 24;
  std::size_t longest = 0;
  for (const auto& level : levels) longest = std::max(longest, level.name.size());
  const double begin = 16.0 + per_letter * static_cast<double>(std::min(longest, most_letters));
  const double bottom = top + row * static_cast<double>(levels.size()) + 4.0;
  const Placing place{x, begin, width - 14.0};
  std::string out = x_axis(x, place, top, bottom) + "\n", names, marks, joined;
  std::vector<Tip> tips;
  for (std::size_t i = 0; i < levels.size(); ++i) {
    const auto& level = levels[i];
    const double y = top + row * (static_cast<double>(i) + 0.5) + 2.0;
    names += text(begin - 8.0, y + 4.0, "end", shortened(level.name, most_letters));
    if (!std::isfinite(level.value)) continue;
    joined += fmt::format("{}{},{}", joined.empty() ? "" : " ", at(place(level.value)), at(y));
    marks += row_of(x, place, level, y);
    tips.push_back({place(level.value), y, level.name + ": " + told(level) + "\n" + x.label});
  }
  return figure(words, bottom + below,
                out + names + "\n<polyline class=\"join\" points=\"" + joined + "\"/>\n" + marks,
                tips_attribute(tips));
}

std::string scatter_chart(const Words& words, const AxisRange& x, const AxisRange& y,
                          const std::vector<Dot>& dots, const std::vector<std::size_t>& front,
                          const std::vector<LimitLine>& limits) {
  constexpr double tall = 250.0, bottom = above + tall, legend_at = bottom + 52.0, near = 9.0;
  const Placing place_x{x, left, width - right}, place_y{y, bottom, above};
  std::string out = x_axis(x, place_x, above, bottom) + y_axis(y, place_y, left, width - right) + "\n";
  for (const auto& limit : limits) {
    const AxisRange& axis = limit.axis == 0 ? x : y;
    if (limit.value < axis.low || limit.value > axis.high) continue;
    out += limit.axis == 0 ? line(place_x(limit.value), above, place_x(limit.value), bottom, "limit")
                           : line(left, place_y(limit.value), width - right, place_y(limit.value), "limit");
  }
  std::string joined;
  for (const std::size_t i : front)
    joined += fmt::format("{}{},{}", joined.empty() ? "" : " ", at(place_x(dots[i].at[0])),
                          at(place_y(dots[i].at[1])));
  out += "\n<polyline class=\"join\" points=\"" + joined + "\"/>\n";
  const auto drawn = [&](const Dot& dot, double px, double py) {
    switch (dot.standing) {
      case Standing::front:
        return fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"4.5\" class=\"f0\"/>", at(px), at(py));
      case Standing::inside:
        return fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"3\" class=\"open\"/>", at(px), at(py));
      case Standing::outside:
        return line(px - 3.0, py - 3.0, px + 3.0, py + 3.0, "cross") +
               line(px - 3.0, py + 3.0, px + 3.0, py - 3.0, "cross");
    }
    return std::string();
  };
  std::vector<Tip> tips;
  // The front last, over the others.
  for (const bool of_front : {false, true}) {
    for (const auto& dot : dots) {
      if ((dot.standing == Standing::front) != of_front) continue;
      const double px = place_x(dot.at[0]), py = place_y(dot.at[1]);
      if (of_front && std::isfinite(dot.half_width[0]))
        out += line(place_x(std::max(x.low, dot.at[0] - dot.half_width[0])), py,
                    place_x(std::min(x.high, dot.at[0] + dot.half_width[0])), py, "l0 whisker");
      if (of_front && std::isfinite(dot.half_width[1]))
        out += line(px, place_y(std::max(y.low, dot.at[1] - dot.half_width[1])), px,
                    place_y(std::min(y.high, dot.at[1] + dot.half_width[1])), "l0 whisker");
      out += drawn(dot, px, py) + "\n";
      tips.push_back({px, py, dot.tip});
    }
  }
  std::vector<std::array<double, 2>> labelled;
  for (const std::size_t i : front) {
    const double px = place_x(dots[i].at[0]) + 7.0, py = place_y(dots[i].at[1]) - 7.0;
    const bool room =
        px < width - right - 14.0 && std::none_of(labelled.begin(), labelled.end(), [&](const auto& other) {
          return std::abs(other[0] - px) < 2.0 * near && std::abs(other[1] - py) < near + 2.0;
        });
    if (!room) continue;
    labelled.push_back({px, py});
    out += text(px, py, "start", dots[i].label);
  }
  double at_x = left;
  for (const auto& entry : {std::pair{Standing::front, "Pareto set"},
                            {Standing::inside, "others"},
                            {Standing::outside, "outside a limit"}}) {
    if (std::none_of(dots.begin(), dots.end(), [&](const Dot& dot) { return dot.standing == entry.first; }))
      continue;
    out += drawn({{}, {}, entry.first, "", ""}, at_x + 5.0, legend_at - 4.0) +
           text(at_x + 14.0, legend_at, "start", entry.second);
    at_x += 95.0;
  }
  return figure(words, legend_at + 8.0, out + "\n", tips_attribute(tips));
}

std::string place_chart(const Words& words, const PlaceMap& map) {
  // One scale for both lengths, so that the vessel keeps its shape.
  constexpr double key_width = 14.0, key_room = 62.0, tallest = 300.0;
  const double per_metre = std::min(tallest / map.height, (width - left - right - key_room) / map.radius);
  const double wide = map.radius * per_metre, tall = map.height * per_metre, bottom = above + tall;
  const AxisRange r{"r / mm", 0.0, 1e3 * map.radius}, z{"z / mm", 0.0, 1e3 * map.height};
  const Placing place_r{r, left, left + wide}, place_z{z, bottom, above};
  std::string out;
  const double cell_w = wide / map.r_bins, cell_h = tall / map.z_bins;
  for (int i = 0; i < map.r_bins; ++i) {
    for (int j = 0; j < map.z_bins; ++j) {
      const double share = map.share[static_cast<std::size_t>(i * map.z_bins + j)];
      const double x = left + i * cell_w, y = bottom - (j + 1) * cell_h;
      // A hair of overlap hides the seams between the cells.
      out += std::isnan(share)
                 ? line(x, y + cell_h, x + cell_w, y, "hatch")
                 : box(x, y, cell_w + 0.3, cell_h + 0.3, filled(map.top > 0.0 ? share / map.top : 0.0));
    }
    out += "\n";
  }
  // Around what was seen, so that a few pale cells do not drown in the hatching.
  const auto seen = [&](int i, int j) {
    return i >= 0 && j >= 0 && i < map.r_bins && j < map.z_bins &&
           !std::isnan(map.share[static_cast<std::size_t>(i * map.z_bins + j)]);
  };
  for (int i = 0; i <= map.r_bins; ++i) {
    for (int j = 0; j <= map.z_bins; ++j) {
      const double x = left + i * cell_w, y = bottom - j * cell_h;
      if (seen(i - 1, j) != seen(i, j)) out += line(x, y, x, y - cell_h, "rim");
      if (seen(i, j - 1) != seen(i, j)) out += line(x, y, x + cell_w, y, "rim");
    }
  }
  out += box(left, above, wide, tall, "class=\"frame\"");
  for (const double tick : ticks(r, 4)) {
    out += line(place_r(tick), bottom, place_r(tick), bottom + 4.0, "axis") +
           text(place_r(tick), bottom + 15.0, "middle", tick_label(tick, r));
  }
  for (const double tick : ticks(z, 8)) {
    out += line(left - 4.0, place_z(tick), left, place_z(tick), "axis") +
           text(left - 6.0, place_z(tick) + 4.0, "end", tick_label(tick, z));
  }
  out += text(left + 0.5 * wide, bottom + 31.0, "middle", r.label) + text(2.0, 12.0, "start", z.label) + "\n";
  const double key = left + wide + 18.0;
  constexpr int key_steps = 25;
  for (int i = 0; i < key_steps; ++i) {
    out += box(key, bottom - (i + 1) * tall / key_steps, key_width, tall / key_steps + 0.3,
               filled((i + 0.5) / key_steps));
  }
  const AxisRange share{"", 0.0, 100.0 * std::max(map.top, 1e-9)};
  const Placing place_share{share, bottom, above};
  for (const double tick : ticks(share, 5))
    out += text(key + key_width + 4.0, place_share(tick) + 4.0, "start", tick_label(tick, share));
  std::vector<double> percent;
  for (const double value : map.share) percent.push_back(100.0 * value);
  return figure(words, bottom + below, out + text(key, 12.0, "start", "% lit") + "\n",
                grid_attribute({left, bottom, left + wide, above}, r, z, {map.r_bins, map.z_bins}, false,
                               percent, "% lit"));
}

std::string section_chart(const Words& words, const SectionMap& map,
                          const std::function<std::string(const SectionPlace&)>& overlay) {
  constexpr double key_width = 12.0, key_room = 56.0, tallest = 330.0;
  constexpr int levels = 14;
  const double span_x = map.high[0] - map.low[0], span_z = map.high[1] - map.low[1];
  const double per_metre = std::min(tallest / span_z, (width - left - right - key_room) / span_x);
  const double wide = span_x * per_metre, tall = span_z * per_metre, bottom = above + tall;
  const AxisRange x{map.x_label, 1e3 * map.low[0], 1e3 * map.high[0]},
      z{"z / mm", 1e3 * map.low[1], 1e3 * map.high[1]};
  const Placing place_x{x, left, left + wide}, place_z{z, bottom, above};
  std::string out = box(left, above, wide, tall, filled(0.0)) + "\n";
  for (int k = 1; k < levels; ++k) {
    std::string path;
    for (const auto& outline : contours(map.values, map.nodes, map.top * k / levels, Border::below)) {
      char command = 'M';
      for (const auto& point : outline) {
        path += fmt::format("{}{:.1f} {:.1f}", command, left + wide * point[0] / (map.nodes[0] - 1),
                            bottom - tall * point[1] / (map.nodes[1] - 1));
        command = 'L';
      }
      path += 'Z';
    }
    out += fmt::format("<path d=\"{}\" fill-rule=\"evenodd\" fill=\"{}\"/>\n", path,
                       ramp_hex(static_cast<double>(k) / (levels - 1)));
  }
  out += overlay([&](double at_x, double at_z) {
    return std::array{place_x(1e3 * at_x), place_z(1e3 * at_z)};
  });
  out += box(left, above, wide, tall, "class=\"frame\"");
  for (const double tick : ticks(x, 5)) {
    out += line(place_x(tick), bottom, place_x(tick), bottom + 4.0, "axis") +
           text(place_x(tick), bottom + 15.0, "middle", tick_label(tick, x));
  }
  for (const double tick : ticks(z, 8)) {
    out += line(left - 4.0, place_z(tick), left, place_z(tick), "axis") +
           text(left - 6.0, place_z(tick) + 4.0, "end", tick_label(tick, z));
  }
  out += text(left + 0.5 * wide, bottom + 31.0, "middle", x.label) + text(2.0, 12.0, "start", z.label);
  const double key = left + wide + 16.0;
  for (int k = 0; k < levels; ++k)
    out += box(key, bottom - (k + 1) * tall / levels, key_width, tall / levels + 0.3,
               filled(static_cast<double>(k) / (levels - 1)));
  const AxisRange scale{"", 0.0, map.top};
  const Placing place_value{scale, bottom, above};
  for (const double tick : ticks(scale, 6))
    out += text(key + key_width + 4.0, place_value(tick) + 4.0, "start", tick_label(tick, scale));
  return figure(
      words, bottom + below, out + text(key - 6.0, 12.0, "start", map.unit) + "\n",
      grid_attribute({left, bottom, left + wide, above}, x, z, map.nodes, true, map.values, map.unit));
}

}  // namespace driftglow::report
