#pragma once

#include <array>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/statistics/estimate.hpp"
#include "tools/report/markup.hpp"

namespace driftglow::report {

enum class Scale { linear, decades };

struct AxisRange {
  std::string label;  // with the unit
  double low, high;
  Scale scale = Scale::linear;
};

// Low and high widened to round numbers; equal ends are set apart.
AxisRange round_range(std::string label, double low, double high);

// Round numbers (1, 2, 5 times a power of ten; powers of ten on decades) inside the range, at most about
// `most`.
std::vector<double> ticks(const AxisRange& axis, int most);

// What stands for a chart to those who do not see it: title, description, and the values in a table.
struct Words {
  std::string title, description;
  std::optional<Table> values;
};

struct Curve {
  std::string name;
  std::vector<double> x, y;
};
// Lines; the curves differ in colour and in dash.
std::string curve_chart(const Words& words, const AxisRange& x, const AxisRange& y,
                        const std::vector<Curve>& curves);

// Bars on y >= 0, one over each whole number from 0.
std::string bar_chart(const Words& words, const std::string& x_label, const std::string& y_label,
                      const std::vector<double>& heights);

struct Interval {
  std::string name;
  int series;        // picks colour and mark
  double value;      // NaN: an empty row
  double low, high;  // not finite: no whisker
  std::vector<double> singles{};
};
// Mean and half width times `scale`.
Interval interval_of(std::string name, int series, const statistics::Estimate& estimate, double scale);
// The farthest that marks, whiskers and single values reach; 0 and 1 of none.
std::array<double, 2> reach_of(const std::vector<Interval>& intervals);

// One row an interval under its name: mark, whisker, faint dots for the single values.
std::string interval_chart(const Words& words, const AxisRange& x, const std::vector<Interval>& intervals);

// Levels of one thing that is varied, in rows beside their names, their marks joined by a line.
std::string level_chart(const Words& words, const AxisRange& x, const std::vector<Interval>& levels);

enum class Standing { front, inside, outside };  // on the Pareto front, behind it, outside the limits
struct Dot {
  std::array<double, 2> at, half_width;
  Standing standing;
  std::string label, tip;  // the label is drawn where there is room, on the front alone
};
// `limits`: lines at x = or y = value.
struct LimitLine {
  int axis;
  double value;
};
// `front`: numbers of dots in the order in which a line joins them.
std::string scatter_chart(const Words& words, const AxisRange& x, const AxisRange& y,
                          const std::vector<Dot>& dots, const std::vector<std::size_t>& front,
                          const std::vector<LimitLine>& limits);

// A half section of the vessel, [r bin][z bin], values 0..1, NaN where nothing was seen (hatched). Lengths in
// m.
struct PlaceMap {
  double radius, height;
  int r_bins, z_bins;
  std::vector<double> share;
  double top;  // share that gets the end of the colour ramp
};
std::string place_chart(const Words& words, const PlaceMap& map);

// A section through the vessel, lengths in m; values >= 0 on the nodes, [first][second], shown up to `top`.
struct SectionMap {
  std::string x_label, unit;
  std::array<double, 2> low, high;
  std::array<int, 2> nodes;
  std::vector<double> values;
  double top;
};
// From a place in the section to the drawing.
using SectionPlace = std::function<std::array<double, 2>(double x, double z)>;
// `overlay`: markup drawn over the map.
std::string section_chart(const Words& words, const SectionMap& map,
                          const std::function<std::string(const SectionPlace&)>& overlay);

}  // namespace driftglow::report
