#include "tools/report/maps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "tools/report/chart.hpp"
#include "tools/report/contour.hpp"

namespace driftglow::report {
namespace {

using results::Setting;

std::string polyline(const std::vector<std::array<double, 2>>& points, const char* style) {
  std::string list;
  for (const auto& point : points)
    list += fmt::format("{}{:.1f},{:.1f}", list.empty() ? "" : " ", point[0], point[1]);
  return fmt::format("<polyline class=\"{}\" points=\"{}\"/>\n", style, list);
}

std::string dot(const std::array<double, 2>& at, double radius, const char* style) {
  return fmt::format("<circle class=\"{}\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:.1f}\"/>", style, at[0], at[1],
                     radius);
}

std::string vessel_outline(const Setting& setting, const SectionPlace& place) {
  const double height = setting.outline.vessel_height, radius = setting.outline.radius_at(0.0),
               top = setting.outline.radius_at(height);
  const std::vector<std::array<double, 2>> walls{place(-radius, 0.0), place(-top, height), place(top, height),
                                                 place(radius, 0.0)};
  const std::string out = polyline(walls, "casing") + polyline(walls, "glass");
  return out + polyline({place(-radius, 0.0), place(radius, 0.0)}, "mesh");
}

// Where a circle about an axis crosses the plane y = 0.
std::vector<std::array<double, 2>> crossings(const results::CoilLook& coil, double offset, double radius) {
  const auto& n = coil.axis;
  const std::array<double, 3> c{coil.centre[0] + offset * n[0], coil.centre[1] + offset * n[1],
                                coil.centre[2] + offset * n[2]};
  // Unit vectors across the axis: e in the plane y = 0, f the other, so that y = c_y + radius f_y sin(phi).
  const double flat = std::hypot(n[0], n[2]);
  if (flat < 1e-9) return {};  // lies in the plane or beside it
  const std::array<double, 3> e{n[2] / flat, 0.0, -n[0] / flat};
  const std::array<double, 3> f{n[1] * e[2], n[2] * e[0] - n[0] * e[2], -n[1] * e[0]};
  const double sine = -c[1] / (radius * f[1]);
  if (!(std::abs(sine) <= 1.0)) return {};
  const double cosine = std::sqrt(1.0 - sine * sine);
  std::vector<std::array<double, 2>> found;
  for (const double sign : {-1.0, 1.0})
    found.push_back({c[0] + radius * (sign * cosine * e[0] + sine * f[0]),
                     c[2] + radius * (sign * cosine * e[2] + sine * f[2])});
  return found;
}

std::string coils_and_metal(const Setting& setting, const SectionPlace& place) {
  const double scale = std::abs(place(1.0, 0.0)[0] - place(0.0, 0.0)[0]);
  std::string out;
  for (const auto& coil : setting.coils) {
    for (const auto& [offset, radius] : coil.turns) {
      for (const auto& at : crossings(coil, offset, radius))
        out += dot(place(at[0], at[1]), std::max(1.2, scale * coil.wire_radius), "turn");
    }
    out += "\n";
  }
  for (const auto& part : setting.metal) {
    for (const double side : {-part.radius, part.radius}) {
      if (part.rods > 0) out += polyline({place(side, part.low), place(side, part.high)}, "metal");
      for (const double z : {part.low, part.high})
        out += dot(place(side, z), std::max(1.5, scale * part.half_thickness), "metal-cut");
    }
  }
  return out;
}

// An arrow's head in the middle of a line, along it or against it.
std::string arrow(const std::vector<std::array<double, 2>>& points, double sense) {
  const std::size_t middle = points.size() / 2;
  const auto &a = points[middle - 1], &b = points[middle];
  const double length = std::hypot(b[0] - a[0], b[1] - a[1]);
  if (length == 0.0) return "";
  const double x = sense * (b[0] - a[0]) / length, y = sense * (b[1] - a[1]) / length;
  return fmt::format("<polygon class=\"arrow\" points=\"{:.1f},{:.1f} {:.1f},{:.1f} {:.1f},{:.1f}\"/>",
                     a[0] + 4.0 * x, a[1] + 4.0 * y, a[0] - 2.0 * x - 2.6 * y, a[1] - 2.0 * y + 2.6 * x,
                     a[0] - 2.0 * x + 2.6 * y, a[1] - 2.0 * y - 2.6 * x);
}

std::string stream_lines(const Setting& setting, const SectionPlace& place) {
  constexpr int lines = 11;
  const auto stream = stream_function(setting);
  const auto [low, high] = std::minmax_element(stream.begin(), stream.end());
  const auto& grid = setting.half_section;
  std::string out;
  for (int k = 0; k < lines; ++k) {
    const double level = *low + (*high - *low) * (k + 0.5) / lines;
    for (const auto& line : contours(stream, grid.nodes, level, Border::open)) {
      if (line.size() < 4) continue;
      for (const double side : {-1.0, 1.0}) {
        std::vector<std::array<double, 2>> points;
        for (const auto& p : line)
          points.push_back(place(side * grid.high[0] * p[0] / (grid.nodes[0] - 1),
                                 grid.high[1] * p[1] / (grid.nodes[1] - 1)));
        // Upward where the stream function rises outward: higher values lie left of a contour, so that a
        // line that goes up has them inward; the flow runs against it.
        out += polyline(points, "stream") + arrow(points, -1.0);
      }
    }
  }
  return out;
}

}  // namespace

std::vector<double> stream_function(const results::Setting& setting) {
  const auto& grid = setting.half_section;
  std::vector<double> stream(grid.size(), 0.0);
  for (int j = 0; j < grid.nodes[1]; ++j) {
    for (int i = 1; i < grid.nodes[0]; ++i) {
      const double r = grid.at(0, i), before = grid.at(0, i - 1);
      const std::size_t at = static_cast<std::size_t>(i) * grid.nodes[1] + j, inner = at - grid.nodes[1];
      stream[at] = stream[inner] + 0.5 * (r - before) * (r * setting.u_z[at] + before * setting.u_z[inner]);
    }
  }
  return stream;
}

std::string field_map(const results::Setting& setting) {
  const auto& grid = setting.section;
  std::vector<double> microtesla;
  double top = 0.0;
  for (int i = 0; i < grid.nodes[0]; ++i) {
    for (int j = 0; j < grid.nodes[1]; ++j) {
      const double value = 1e6 * setting.flux_density[static_cast<std::size_t>(i) * grid.nodes[1] + j];
      microtesla.push_back(value);
      const double z = grid.at(1, j);
      if (std::abs(grid.at(0, i)) <= setting.outline.radius_at(z) && z >= 0.0 &&
          z <= setting.outline.vessel_height)
        top = std::max(top, value);
    }
  }
  return section_chart(
      {"Peak |B| in the plane y = 0, vessel, coils and metal",
       fmt::format(
           "Map of the peak flux density through the vessel's axis and out to the coils; colours end at the "
           "largest "
           "value inside the vessel, {:.3g} µT, which also stands for what is above it near the wires.",
           top),
       {}},
      {"x / mm", "µT", grid.low, grid.high, grid.nodes, microtesla, top}, [&](const SectionPlace& place) {
        return coils_and_metal(setting, place) + vessel_outline(setting, place);
      });
}

std::string air_map(const results::Setting& setting) {
  const auto& half = setting.half_section;
  const int columns = 2 * half.nodes[0] - 1;
  std::vector<double> speed;
  for (int i = 0; i < columns; ++i) {
    const int from_axis = std::abs(i - (half.nodes[0] - 1));
    for (int j = 0; j < half.nodes[1]; ++j) {
      const std::size_t at = static_cast<std::size_t>(from_axis) * half.nodes[1] + j;
      speed.push_back(std::hypot(setting.u_r[at], setting.u_theta[at], setting.u_z[at]));
    }
  }
  const double top = *std::max_element(speed.begin(), speed.end());
  return section_chart(
      {"Mean air: speed, and stream lines of the flow up, down and across",
       fmt::format(
           "Map of the mean air's speed, swirl included, up to {:.3g} m/s, in a plane through the axis. "
           "The same flow passes between each two neighbouring stream lines.",
           top),
       {}},
      {"x / mm", "m/s", {-half.high[0], 0.0}, half.high, {columns, half.nodes[1]}, speed, top},
      [&](const SectionPlace& place) {
        return stream_lines(setting, place) + vessel_outline(setting, place);
      });
}

}  // namespace driftglow::report
