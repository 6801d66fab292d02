#include "models/swirl_flow/solved_map.hpp"

#include <algorithm>
#include <cmath>

#include "models/air/turbulence.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/monotone.hpp"

namespace driftglow::swirl_flow {
namespace {

std::vector<double> even(double last, int cells) {
  std::vector<double> nodes;
  for (int i = 0; i <= cells; ++i) nodes.push_back(last * i / cells);
  return nodes;
}

// f(line) of every column of `values`.
template <class F>
Eigen::MatrixXd by_column(const Eigen::MatrixXd& values, F f) {
  Eigen::MatrixXd result;
  std::vector<double> line(values.rows());
  for (Eigen::Index j = 0; j < values.cols(); ++j) {
    Eigen::VectorXd::Map(line.data(), values.rows()) = values.col(j);
    const std::vector<double> column = f(line);
    if (j == 0) result.resize(static_cast<Eigen::Index>(column.size()), values.cols());
    result.col(j) = Eigen::VectorXd::Map(column.data(), result.rows());
  }
  return result;
}

// values(i, j) at (s[i], z[j]), along s first.
Eigen::MatrixXd resampled(const Eigen::MatrixXd& values, const std::vector<double>& s,
                          const std::vector<double>& z, const std::vector<double>& s_new,
                          const std::vector<double>& z_new) {
  const auto along_s = by_column(values, [&](const auto& v) { return monotone_resampled(s, v, s_new); });
  return by_column(along_s.transpose(), [&](const auto& v) { return monotone_resampled(z, v, z_new); })
      .transpose();
}

// What the spline whose inner coefficients are v takes at the nodes. The coefficients at the ends are those
// for which it meets the end values under air::AirMap's edge condition (no jump of the third derivative at
// the node next to the end): 6 v_0 = 8 c_0 - 5 c_1 + 4 c_2 - c_3.
std::vector<double> smoothed(const std::vector<double>& v) {
  const std::size_t last = v.size() - 1;
  std::vector<double> c = v, result = v;
  c[0] = (6.0 * v[0] + 5.0 * v[1] - 4.0 * v[2] + v[3]) / 8.0;
  c[last] = (6.0 * v[last] + 5.0 * v[last - 1] - 4.0 * v[last - 2] + v[last - 3]) / 8.0;
  for (std::size_t i = 1; i < last; ++i) result[i] = (c[i - 1] + 4.0 * c[i] + c[i + 1]) / 6.0;
  return result;
}
Eigen::MatrixXd smoothed(const Eigen::MatrixXd& values) {
  const auto line = [](const std::vector<double>& v) { return smoothed(v); };
  return by_column(by_column(values, line).transpose(), line).transpose();
}

// The z cells, z_cells to 5/4 of them, for which an edge lies nearest to a node.
int cells_meeting(double share, int z_cells) {
  int best = z_cells;
  double least = 1.0;
  for (int n = z_cells; n <= z_cells + z_cells / 4; ++n) {
    const double off = std::fabs(share * n - std::round(share * n));
    if (off < least - 1e-9) least = off, best = n;
  }
  return best;
}

air::AirMapError error_of(const air::AirMap& map, const SolvedVessel& vessel) {
  const auto& r = vessel.flow_case.r_faces;
  const auto& z = vessel.flow_case.z_faces;
  const FlowField& f = vessel.field;
  double speed = 0.0, sigma = 0.0, speed_error = 0.0, sigma_error = 0.0;
  for (int j = 0; j < vessel.flow_case.z_cells(); ++j) {
    const double height = 0.5 * (z[j] + z[j + 1]);
    if (height < 0.0) continue;
    for (int i = 0; i < vessel.flow_case.r_cells(); ++i) {
      const double middle = 0.5 * (r[i] + r[i + 1]), width = vessel.flow_case.cell_width(j),
                   radius = middle * width, volume = radius * width * (r[i + 1] - r[i]) * (z[j + 1] - z[j]);
      const auto got = map.sample(numeric::Vec3<double>{radius, 0.0, height});
      const double u_z = 0.5 * (f.u_z(i, j) + f.u_z(i, j + 1));
      const numeric::Vec3<double> u{
          0.5 * (f.u_r(i, j) + f.u_r(i + 1, j)) + middle * vessel.flow_case.cell_slope(j) * u_z,
          f.angular_momentum(i, j) / radius, u_z};
      const double fluctuation = air::fluctuation(f.kinetic_energy(i, j)), off = norm(got.u_W - u);
      speed += volume * dot(u, u), speed_error += volume * off * off;
      sigma += volume * fluctuation * fluctuation;
      sigma_error += volume * std::pow(got.sigma - fluctuation, 2);
    }
  }
  const auto share = [](double error, double whole) { return whole > 0.0 ? std::sqrt(error / whole) : 0.0; };
  return {share(speed_error, speed), share(sigma_error, sigma)};
}

}  // namespace

air::AirNodes nodes_of(const SolvedVessel& vessel, const MapCells& cells) {
  if (cells.s < 4 || cells.z < 4) throw LogicError("a map of solved air needs at least 4 cells an axis");
  const FlowCase& flow = vessel.flow_case;
  const double radius = flow.r_faces.back(), height = flow.z_faces.back(), area_scale = radius * radius;
  std::vector<double> s_faces, s_middles, z_faces, z_middles;
  int first = 0;  // z face of the mesh
  while (flow.z_faces[first] < -1e-9 * height) ++first;
  for (const double r : flow.r_faces) s_faces.push_back(r * r / area_scale);
  for (int i = 0; i < flow.r_cells(); ++i) {
    const double r = 0.5 * (flow.r_faces[i] + flow.r_faces[i + 1]);
    s_middles.push_back(r * r / area_scale);
  }
  double gap_edge = height;
  for (int j = first; j <= flow.z_cells(); ++j) {
    z_faces.push_back(flow.z_faces[j]);
    if (j == flow.z_cells()) continue;
    z_middles.push_back(0.5 * (flow.z_faces[j] + flow.z_faces[j + 1]));
    if (flow.outer[j].kind == BoundaryKind::vent) gap_edge = std::min(gap_edge, flow.z_faces[j]);
  }
  const double gap = height - gap_edge;
  const int z_cells =
      gap > 0.0 ? std::max(cells.z, static_cast<int>(std::ceil(std::min(4.0 * height / gap, 640.0))))
                : cells.z;
  const auto s_nodes = even(1.0, cells.s), z_nodes = even(height, cells_meeting(gap_edge / height, z_cells));
  const auto levels = static_cast<Eigen::Index>(z_middles.size());
  const auto middles = [&](const Eigen::ArrayXXd& values) {
    return smoothed(resampled(values.rightCols(levels).matrix(), s_middles, z_middles, s_nodes, z_nodes));
  };
  Eigen::ArrayXXd turn_rate = vessel.field.angular_momentum;
  for (Eigen::Index i = 0; i < turn_rate.rows(); ++i) turn_rate.row(i) /= s_middles[i] * area_scale;
  for (int j = 0; j < flow.z_cells(); ++j) turn_rate.col(j) /= flow.cell_width(j) * flow.cell_width(j);
  Eigen::ArrayXXd psi = vessel.stream_function.rightCols(levels + 1);
  const Eigen::Index wall = psi.rows() - 1;
  // Along a closed wall psi is the whole flow exactly, and 0 under a closed lid, not but for the rounding of
  // their sums.
  const double whole = psi(wall, 0);
  for (Eigen::Index j = 1; j <= levels && flow.outer[first + j - 1].kind == BoundaryKind::wall; ++j)
    psi(wall, j) = whole;
  for (Eigen::Index i = 1; i <= wall && flow.top[i - 1].kind == BoundaryKind::wall; ++i)
    psi(i, levels) = psi(i - 1, levels);
  // chi = psi/s, on the axis R^2/2 times the speed there, linear in s through the two innermost cells.
  const auto& u_z = vessel.field.u_z;
  Eigen::MatrixXd chi = resampled(psi.matrix(), s_faces, z_faces, s_nodes, z_nodes);
  for (Eigen::Index i = 1; i < chi.rows(); ++i) chi.row(i) /= s_nodes[static_cast<std::size_t>(i)];
  std::vector<double> on_axis;
  for (Eigen::Index j = first; j <= flow.z_cells(); ++j) {
    const double slope = (u_z(1, j) - u_z(0, j)) / (s_middles[1] - s_middles[0]);
    const double width = flow.face_width(static_cast<int>(j));
    on_axis.push_back(0.5 * area_scale * width * width * (u_z(0, j) - slope * s_middles[0]));
  }
  const auto axis = monotone_resampled(z_faces, on_axis, z_nodes);
  chi.row(0) = Eigen::RowVectorXd::Map(axis.data(), chi.cols());
  return {smoothed(chi), middles(turn_rate),
          middles(vessel.field.kinetic_energy.unaryExpr(&air::fluctuation)),
          middles(vessel.field.dissipation.unaryExpr([](double e) { return std::cbrt(e); }))};
}

air::AirMap map_of(const SolvedVessel& vessel, const MapCells& cells) {
  const auto nodes = nodes_of(vessel, cells);
  const FlowCase& flow = vessel.flow_case;
  const double radius = flow.r_faces.back(), height = flow.z_faces.back();
  const double slope = radius * (flow.face_width(flow.z_cells()) - 1.0) / height;
  const auto error = error_of({radius, height, nodes, {0.0, 0.0}, slope}, vessel);
  return {radius, height, nodes, error, slope};
}

}  // namespace driftglow::swirl_flow
