#include "sim/maps/field_file.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "sim/maps/node_file.hpp"

namespace driftglow::maps {
namespace {

using scenario::Dimension;

constexpr int axes = 4;        // r, x, y, z
constexpr int components = 4;  // likewise
enum Way { flux_density, voltage, later_flux_density, later_voltage, ways };

// Axes, then the components of each way.
const NodeColumn field_columns[axes + components * ways] = {
    {"r", "mm", Dimension::length, "/axes/r", true, false, 0.0},
    {"x", "mm", Dimension::length, "/axes/x", true, false},
    {"y", "mm", Dimension::length, "/axes/y", true, false},
    {"z", "mm", Dimension::length, "/axes/z", true, true},
    {"B_r", "uT", Dimension::flux_density, "/field/B_r", false, false},
    {"B_x", "uT", Dimension::flux_density, "/field/B_x", false, false},
    {"B_y", "uT", Dimension::flux_density, "/field/B_y", false, false},
    {"B_z", "uT", Dimension::flux_density, "/field/B_z", false, false},
    {"U_r", "mV", Dimension::voltage, "/field/U_r", false, false},
    {"U_x", "mV", Dimension::voltage, "/field/U_x", false, false},
    {"U_y", "mV", Dimension::voltage, "/field/U_y", false, false},
    {"U_z", "mV", Dimension::voltage, "/field/U_z", false, false},
    {"B_r_later", "uT", Dimension::flux_density, "/field/B_r_later", false, false},
    {"B_x_later", "uT", Dimension::flux_density, "/field/B_x_later", false, false},
    {"B_y_later", "uT", Dimension::flux_density, "/field/B_y_later", false, false},
    {"B_z_later", "uT", Dimension::flux_density, "/field/B_z_later", false, false},
    {"U_r_later", "mV", Dimension::voltage, "/field/U_r_later", false, false},
    {"U_x_later", "mV", Dimension::voltage, "/field/U_x_later", false, false},
    {"U_y_later", "mV", Dimension::voltage, "/field/U_y_later", false, false},
    {"U_z_later", "mV", Dimension::voltage, "/field/U_z_later", false, false}};

class Taking {
 public:
  Taking(const scenario::MeasuredField& given, const NodeGrid& grid) : given_(given), grid_(grid) {}

  coil::FieldGrid run() const {
    const bool has[axes] = {!grid_.axes[0].empty(), !grid_.axes[1].empty(), !grid_.axes[2].empty(),
                            !grid_.axes[3].empty()};
    const bool axial = has[0];
    if (axial ? has[1] || has[2] : !(has[1] && has[2]))
      fault("the columns that say where are neither r, z nor x, y, z; expected one of the two");
    const std::vector<int> used = axial ? std::vector{0, 3} : std::vector{1, 2, 3};
    coil::FieldGrid field{axial ? coil::FieldGrid::Kind::axial : coil::FieldGrid::Kind::cartesian, {}, {}};
    for (const int axis : used) field.axes.push_back(grid_.axes[static_cast<std::size_t>(axis)]);
    const bool later = any(later_flux_density) || any(later_voltage);
    field.parts.push_back(part(used, flux_density, voltage));
    if (later) field.parts.push_back(part(used, later_flux_density, later_voltage));
    return field;
  }

 private:
  [[noreturn]] void fault(const std::string& what) const { throw InputError(given_.file + ": " + what); }

  const std::optional<std::vector<double>>& values(int component, Way way) const {
    return grid_.values[static_cast<std::size_t>(axes + way * components + component)];
  }
  static const char* name(int component, Way way) {
    return field_columns[axes + way * components + component].name;
  }
  bool any(Way way) const {
    for (int c = 0; c < components; ++c)
      if (values(c, way)) return true;
    return false;
  }

  Eigen::MatrixXd part(const std::vector<int>& used, Way direct, Way induced) const {
    if (any(direct) && any(induced))
      fault(fmt::format("there are columns in tesla and in volts of one time; expected all {} or all {}",
                        direct == flux_density ? "B_" : "B_..._later",
                        direct == flux_density ? "U_" : "U_..._later"));
    const Way way = any(induced) ? induced : direct;
    Eigen::MatrixXd result(static_cast<Eigen::Index>(used.size()), static_cast<Eigen::Index>(grid_.nodes));
    for (int c = 0; c < components; ++c) {
      const bool wanted = std::find(used.begin(), used.end(), c) != used.end();
      if (values(c, way).has_value() == wanted) continue;
      std::vector<const char*> names;
      for (const int k : used) names.push_back(name(k, way));
      fault(fmt::format("column `{}` {}; expected `{}`", name(c, way),
                        wanted ? "is missing" : "does not belong to these axes", fmt::join(names, "`, `")));
    }
    const double factor = given_.factor * (way == induced ? tesla_per_volt() : 1.0);
    for (std::size_t k = 0; k < used.size(); ++k)
      result.row(static_cast<Eigen::Index>(k)) =
          factor * Eigen::Map<const Eigen::RowVectorXd>(values(used[k], way)->data(),
                                                        static_cast<Eigen::Index>(grid_.nodes));
    return result;
  }

  // Peak of the field by the rms voltage of a search coil: U sqrt(2) = omega N A B.
  double tesla_per_volt() const {
    if (!given_.search_coil)
      fault(
          "the columns are voltages, and the scenario does not say of which coil; expected "
          "`search_coil: {turns: 10, area: 12.6 cm2}` beside the file");
    return std::sqrt(2.0) /
           (2.0 * constant::pi * given_.frequency * given_.search_coil->turns * given_.search_coil->area);
  }

  const scenario::MeasuredField& given_;
  const NodeGrid& grid_;
};

}  // namespace

coil::MeasuredField read_field(const scenario::MeasuredField& given, coil::Reach vessel, coil::Reach reach) {
  const auto nodes = read_node_file(
      given.file, field_columns,
      {given.where, "the file of the field", "`r [mm], z [mm], B_r [uT], B_z [uT]`",
       "expected /axes/r, /axes/z [m] and /field/B_r, B_z [T], or x, y, z", "(some 10 000 nodes)"});
  constexpr std::size_t most = 20000;
  if (nodes.nodes > most)
    throw InputError(
        fmt::format("{}: the grid has {} nodes; expected at most {}, which is finer than any search coil "
                    "sees",
                    given.file, nodes.nodes, most));
  const auto grid = Taking(given, nodes).run();
  auto measured = [&] {
    try {
      return coil::fit_field(grid, vessel, reach);
    } catch (const InputError& error) {
      throw InputError(given.file + ": " + error.what());
    }
  }();
  constexpr double weakest = 1e-9, strongest = 1.0;
  if (measured.rms < weakest || measured.rms > strongest)
    throw InputError(
        fmt::format("{}: the field is {:.2g} T in the mean; expected 1 nT to 1 T, so look at the units in "
                    "the header",
                    given.file, measured.rms));
  constexpr double most_misfit = 0.25;
  if (measured.misfit > most_misfit) {
    const std::string cause =
        measured.remedy ? fmt::format("with {} one would", *measured.remedy)
                        : "so look at signs, units, the order of columns and where the zero of z is";
    throw InputError(
        fmt::format("{}: no magnetic field in air is like these readings: the nearest misses them by {:.0f} "
                    "% rms, most at "
                    "({:.0f}, {:.0f}, {:.0f}) mm; expected readings of one field within some per cent, {}",
                    given.file, 100.0 * measured.misfit, 1e3 * measured.worst.x(), 1e3 * measured.worst.y(),
                    1e3 * measured.worst.z(), cause));
  }
  return measured;
}

}  // namespace driftglow::maps
