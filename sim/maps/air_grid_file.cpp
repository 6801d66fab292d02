#include "sim/maps/air_grid_file.hpp"

#include "models/error.hpp"
#include "sim/maps/node_file.hpp"

namespace driftglow::maps {
namespace {

using scenario::Dimension;

constexpr double usual_length_share = 0.14;  // of the radius, as a column's (Nikuradse)

enum Field { r, z, u_r, u_theta, u_z, k, epsilon, fields };
const NodeColumn air_columns[fields] = {
    {"r", "mm", Dimension::length, "/axes/r", true, true, 0.0},
    {"z", "mm", Dimension::length, "/axes/z", true, true},
    {"u_r", "m/s", Dimension::speed, "/mean/u_r", false, false},
    {"u_theta", "m/s", Dimension::speed, "/mean/u_theta", false, true},
    {"u_z", "m/s", Dimension::speed, "/mean/u_z", false, true},
    {"k", "m2/s2", Dimension::specific_energy, "/turbulence/k", false, false, 0.0},
    {"epsilon", "m2/s3", std::nullopt, "/turbulence/epsilon", false, false, 0.0}};

}  // namespace

air::AirGrid read_air_grid(const scenario::GriddedAir& given, double radius, double height) {
  auto grid =
      read_node_file(given.file, air_columns,
                     {given.where, "the file of the air",
                      "`r [mm], z [mm], u_r [m/s], u_theta [m/s], u_z [m/s], k [m2/s2], epsilon [m2/s3]`",
                      "expected /axes/r, /axes/z [m] and /mean/u_theta, u_z [m/s] as in air.h5",
                      "(at most 48 x 64 cells are used)"});
  if (grid.values[epsilon] && !grid.values[k])
    throw InputError(given.file + ": there is epsilon but no k; expected both, or no epsilon");
  const auto n_r = static_cast<Eigen::Index>(grid.axes[r].size()),
             n_z = static_cast<Eigen::Index>(grid.axes[z].size());
  const auto matrix = [&](Field field) -> std::optional<Eigen::MatrixXd> {
    if (!grid.values[field]) return std::nullopt;
    return Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(
        grid.values[field]->data(), n_r, n_z);
  };
  return {radius,
          height,
          std::move(grid.axes[r]),
          std::move(grid.axes[z]),
          matrix(u_r),
          *matrix(u_theta),
          *matrix(u_z),
          matrix(k),
          matrix(epsilon),
          given.turbulence_intensity,
          given.turbulence_floor,
          given.length_scale.value_or(usual_length_share * radius),
          given.open_above};
}

}  // namespace driftglow::maps
